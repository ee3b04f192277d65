"""Devices of the office network: let one in, list them, withdraw one.

Contents: the router. On a server that only this machine reaches nothing needs to be let in.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from desorb.errors import Refused
from desorb.service.devices import LONGEST_NAME, Device, Devices, Standing
from desorb.web.desk import desk_of
from desorb.web.pairing import pairing_of, set_cookie
from desorb.web.problems import Problem

router = APIRouter(tags=["devices"])


class PairRequest(BaseModel):
    """The code as it is shown where the server runs, and what this device is called in the list."""

    model_config = ConfigDict(extra="forbid")
    code: str = Field(max_length=40)
    name: str = Field(min_length=1, max_length=LONGEST_NAME)


class Said(BaseModel):
    """What was done, in a sentence."""

    said: str


class DeviceLine(BaseModel):
    """A device that was let in."""

    id: str
    name: str
    paired_at: str
    last_seen: str
    withdrawn: str
    standing: Standing


@router.post("/api/pair", responses={429: {"model": Problem, "description": "too many wrong codes"}})
def pair(request: Request, response: Response, asked: PairRequest) -> Said:
    """Let this device in: the answer sets a cookie that no script can read."""
    desk = desk_of(request)
    if not desk.shared:
        raise Refused(
            "this server is reached from its own machine only, so nothing needs pairing",
            next_step="start it with 'desorb serve --network'",
        )
    address = request.client.host if request.client else ""
    token = pairing_of(desk).pair(asked.code, asked.name, address)
    set_cookie(response, token)
    return Said(said="This device is let in. Open /site/ and choose the cases to keep on it.")


@router.get("/api/devices")
def devices(request: Request) -> list[DeviceLine]:
    """Every device that was ever let in, and whether it still is."""
    desk = desk_of(request)
    return [_line(device, device.standing(desk.clock())) for device in Devices(desk.home, desk.clock).all()]


@router.post("/api/devices/{device}/withdrawal")
def withdraw(request: Request, device: Annotated[str, Path(pattern="^[0-9a-f]{8}$")]) -> Said:
    """Let a device in no longer. Nothing on it is taken away."""
    desk = desk_of(request)
    gone = pairing_of(desk).devices.withdraw(device)
    return Said(said=f"{gone.name} is let in no longer. What it had not sent is still on it.")


def _line(device: Device, standing: Standing) -> DeviceLine:
    return DeviceLine(
        id=device.id, name=device.name, paired_at=device.paired_at, last_seen=device.last_seen,
        withdrawn=device.withdrawn, standing=standing,
    )  # fmt: skip
