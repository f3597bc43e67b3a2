"""halfsplit bench: the page on the tablet or laptop beside the work."""

from __future__ import annotations

import contextlib
import os
import secrets
import socket
import sys
import threading
from pathlib import Path

import click

from halfsplit.cli.common import fail, kit_option, read_kit_file
from halfsplit.errors import HalfsplitError


@click.command()
@click.option(
    "--jobs",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("jobs"),
    show_default=True,
    help="Folder of the jobs.",
)
@click.option("--port", type=click.IntRange(0, 65535), default=8570, show_default=True, help="0 takes any that is free.")
@click.option("--lan", is_flag=True, help="Let tablets on this network in: those that scan the code shown here.")
@kit_option
def bench(jobs: Path, port: int, lan: bool, kit: Path | None) -> None:
    """Serve the bench page, for this machine only unless --lan is given. Ctrl-C ends it; nothing is lost by that."""
    try:
        serve(jobs, port, lan, kit)
    except HalfsplitError as bad:
        fail(bad)


def serve(jobs: Path, port: int, lan: bool, kit: Path | None) -> None:
    """Run until stopped, and end the program then. Raises InputError where folder, kit or port can't be had."""
    import uvicorn

    from halfsplit.bench.app import make_app
    from halfsplit.bench.desk import Desk
    from halfsplit.bench.guard import Door, loopback_hosts
    from halfsplit.bench.shelf import Shelf
    from halfsplit.errors import InputError

    desk = Desk(Shelf(jobs), read_kit_file(kit))
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("0.0.0.0" if lan else "127.0.0.1", port))
    except OSError as bad:
        raise InputError(f"port {port}: {bad.strerror}; is the page running already? Else name another with --port") from None
    port = listening.getsockname()[1]
    hosts, token = loopback_hosts(port), None
    click.echo(f"bench page: http://localhost:{port}/   jobs in {jobs}   (Ctrl-C ends)")
    if lan:
        token = secrets.token_urlsafe(18)
        mine = own_address()
        hosts |= {f"{mine}:{port}"}
        _show_code(f"http://{mine}:{port}/?token={token}")
        click.echo(f"on this machine: http://localhost:{port}/?token={token}")
    app = make_app(desk, Door(hosts, token))
    threading.Thread(target=_warm, daemon=True).start()
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=3, server_header=False))
    stop = server.handle_exit

    def leave(sig: int, frame: object) -> None:
        app.state.stopping.set()
        stop(sig, frame)  # type: ignore[arg-type]

    server.handle_exit = leave  # type: ignore[method-assign]
    sys.stdout.flush()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])
    sys.stdout.flush()
    os._exit(0 if server.started else 1)  # a large set may still be solved for a minute; every line that was acknowledged is on the disk


def own_address() -> str:
    """The address that others on this network reach this machine by; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return socket.gethostname()
        return str(probe.getsockname()[0])


def _show_code(address: str) -> None:
    """The address as a code to scan, and in letters."""
    import segno

    segno.make(address, error="l").terminal(out=sys.stdout, compact=True)
    click.echo(f"scan this with the tablet, or open {address}\nWhoever has it can read and enter; it is another one each time.")


def _warm() -> None:
    """Have the solver loaded before the first job is opened."""
    from halfsplit.solver import powered  # noqa: F401
