"""The parts of requests that several routes share: their lengths are bounded and their words stand in the API description.

Contents: CaseId, Device, Number, Sha256, Figure, Words, Line, Name; Form (a request body that takes no other field); Said.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Path
from pydantic import BaseModel, ConfigDict, StringConstraints

CaseId = Annotated[str, Path(min_length=8, max_length=64, description="Id of the case, as the list of cases gives it.")]
Device = Annotated[
    str, Path(min_length=1, max_length=64, description="Device of an entry: the part before the stroke.")
]
Number = Annotated[int, Path(ge=0, le=2**53, description="Number of an entry: the part behind the stroke.")]
Sha256 = Annotated[str, Path(pattern=r"^[0-9a-f]{64}$", description="SHA-256 of the bytes, 64 hexadecimal digits.")]
Words = Annotated[str, StringConstraints(max_length=4000)]
Figure = Annotated[str, StringConstraints(max_length=40)]  # a number as typed, comma or point; '' is not stated
Line = Annotated[str, StringConstraints(max_length=300)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=120)]


class Form(BaseModel):
    """A request body: a field that is not known is refused, so that a slip does not pass in silence."""

    model_config = ConfigDict(extra="forbid")


class Said(BaseModel):
    """What was done, as a sentence."""

    said: str
