"""Which kind of file somebody gave, where it is the other one."""

from __future__ import annotations

from fieldsim.errors import FileTroubleError
from fieldsim.machine_file.yaml_nodes import Document

__all__ = ["refuse_a_geometry", "refuse_a_wish"]

_GEOMETRY = {"magnets", "rotors", "coils"}
_WISH = {"machine", "may_vary", "want"}


def refuse_a_geometry(document: Document) -> None:
    """Say of a geometry that it is no wish.

    Raises
    ------
    FileTroubleError
        If the file has keys that only a geometry has, and none that a wish needs.
    """
    if _has_only(document, _GEOMETRY, _WISH):
        raise FileTroubleError(
            f"{document.file}: this is a geometry, not a wish; a wish names one as its machine, "
            "and what may vary, must hold and is wanted (fieldsim keys wish)"
        )


def refuse_a_wish(document: Document) -> None:
    """Say of a wish that it is no geometry.

    Raises
    ------
    FileTroubleError
        If the file has keys that only a wish has, and none that a geometry needs.
    """
    if _has_only(document, _WISH, _GEOMETRY):
        raise FileTroubleError(
            f"{document.file}: this is a wish, not a geometry; fieldsim search looks for the "
            "machine that fulfils it best, and --out writes that as a geometry"
        )


def _has_only(document: Document, some: set[str], none: set[str]) -> bool:
    return bool(some & document.content.keys()) and not none & document.content.keys()
