"""Drying: what evaporates, what the air takes, whether a unit works, what to start with, and what must not be harmed.

Contents: `evaporation` (published forms, with their span), `enclosure` (air change, load as named terms, outside air or
closed), `unit_check` (air against tank, recirculation), `unit_capacity` (ratings off their point), `sizing` (first-day rules),
`power` (circuits, energy, cost), `keep_or_strip` (options for one element), `harm_guard` (what must be answered first).
"""
