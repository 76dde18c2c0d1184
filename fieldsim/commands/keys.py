"""The ``keys`` command: the keys of a geometry file, of one section of it, or of a wish."""

from __future__ import annotations

import click

from fieldsim.commands.options import Results, deliver, json_option


@click.command()
@click.argument("section", default="")
@json_option
def keys(section: str, as_json: bool) -> None:
    """List the keys of a SECTION of geometry files, like coils.wire; without it the top level.

    Those of a wish, which `search` takes, are the section wish.
    """
    from fieldsim.tables.json_documents import keys_json
    from fieldsim.words.key_tables import key_section, key_text

    found = key_section(section)
    deliver(
        Results(as_json, None, None),
        as_json=lambda: keys_json(found),
        text=lambda width: key_text(found, width),
    )
