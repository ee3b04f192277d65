"""Causes of damp: the pattern of each, the table of what speaks for and against, and records of leak tests.

Contents: patterns (data), table (ranked rows, sentences and their refusals), leak_tests (what a test can disprove).
"""
