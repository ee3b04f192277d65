"""The commands that open the page to people and devices: serve, devices, withdraw-device."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from desorb.cli.asking import chosen_home_folder, opened, say, say_json, say_table
from desorb.errors import InputError


def serve_command(
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes a free one.")] = 8421,
    network: Annotated[bool, typer.Option("--network", help="Let paired devices of the office network in.")] = False,
    name: Annotated[str, typer.Option(help="With --network: the name under which devices reach this machine.")] = "",
    certificate: Annotated[Path | None, typer.Option(help="With --network: the certificate (PEM).")] = None,
    key: Annotated[Path | None, typer.Option(help="With --network: the key of the certificate (PEM).")] = None,
) -> None:
    """Open the page: on this machine only, or with --network to paired devices. Stop it with Ctrl-C."""
    from desorb.web.serve import Network, serve, serve_network

    given = bool(name) or certificate is not None or key is not None
    if given and not network:
        raise InputError(
            "a name and a certificate are for a server on the network", next_step="add --network, or leave them out"
        )
    if network and not (name and certificate is not None and key is not None):
        raise InputError(
            "a server on the network needs a name, a certificate and its key: without TLS a browser gives a page neither"
            " the camera nor the offline page nor the hashing that the record rests on",
            wanted="--name mybox.local --certificate cert.pem --key key.pem",
            next_step="make them as docs/manual/on_the_network.md says, or leave --network out",
        )
    with opened() as store:
        if network and certificate is not None and key is not None:
            serve_network(store, Network(name, certificate, key), port=port, say=say)
        else:
            serve(store, port=port, say=say)


def devices_command(
    withdraw: Annotated[str, typer.Option(help="Id of a device that shall be let in no longer.")] = "",
    json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
) -> None:
    """List the devices that were let in from the network, or withdraw one. Nothing on a withdrawn device is taken away."""
    from desorb.service.cases import now
    from desorb.service.devices import Devices

    devices = Devices(chosen_home_folder())
    if withdraw:
        gone = devices.withdraw(withdraw)
        say(f"{gone.name} is let in no longer. What it had not sent is still on it.")
        return
    lines = [
        {"id": each.id, "name": each.name, "paired_at": each.paired_at, "last_seen": each.last_seen,
         "withdrawn": each.withdrawn, "standing": each.standing(now())}
        for each in devices.all()
    ]  # fmt: skip
    if json:
        say_json(lines)
    elif not lines:
        say("No device was let in yet. 'desorb serve --network' shows how.")
    else:
        names = ["id", "name", "paired_at", "last_seen", "withdrawn", "standing"]
        say_table("", names, [[line[name] for name in names] for line in lines])


COMMANDS = (serve_command, devices_command)
