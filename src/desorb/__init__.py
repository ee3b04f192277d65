"""Readings, decisions and records for damp buildings."""

from __future__ import annotations

__all__: list[str] = []
