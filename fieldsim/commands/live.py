"""The ``live`` command: the machine on a page with sliders, in the browser."""

from __future__ import annotations

from collections.abc import Sequence

import click

from fieldsim.commands.messages import print_text


@click.command()
@click.argument("geometry", required=False)
@click.option("--host", metavar="ADDRESS", help="Let others in, for a class; by default nobody.")
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    metavar="NUMBER",
    help="Port to listen at.  [default: 8137, or any that is free]",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def live(geometry: str | None, host: str | None, port: int | None, no_browser: bool) -> None:
    """Open GEOMETRY, or a starting machine, as a page with sliders, until Ctrl-C."""
    import webbrowser

    from fieldsim.live.server import open_socket, serve
    from fieldsim.live.start import starting_text
    from fieldsim.report.beside import processors

    text = starting_text(geometry)
    opened = open_socket(host, port)

    def ready(addresses: Sequence[str]) -> None:
        for address in addresses:
            print_text(address)
        if opened.room:
            print_text(
                "Caution: everybody who can reach this computer and knows the address can use the "
                "page and keep its processors busy. They cannot see its files or each other's "
                "machines. End it when the lesson is over."
            )
        print_text("Ctrl-C ends it.")
        if not no_browser and not opened.room:
            webbrowser.open(addresses[0])

    serve(opened, text, processes=max(1, processors()), ready=ready)
