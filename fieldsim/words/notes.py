"""Every note about a doubtful number in a sentence."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from fieldsim.cautions import Doubt, Note
from fieldsim.words.numbers import plain_number, share

__all__ = ["LOSSES", "note_lines", "note_text"]

LOSSES = {"friction": "friction", "gears": "gear meshes"}
"""What is lost, by the section of a file that describes it."""


def note_text(note: Note) -> str:
    """Return a note in words, without a stop.

    Examples
    --------
    >>> note_text(Note(Doubt.COARSE_STEPS, 0.004, 0.0005))
    'coarse steps: averages are good to about 0.4 % only'
    """
    return _SENTENCES[note.kind](note)


def note_lines(notes: Iterable[Note]) -> list[str]:
    """Return the lines of a screen, none twice."""
    return [f"Note: {text}" for text in dict.fromkeys(map(note_text, notes))]


def _shifted_speeds(note: Note) -> str:
    turns = note.facts["turns"]
    return (
        f"the rotors come back together late or never; solved for {turns:.4g} turns, with rotor "
        f"speeds shifted by up to {plain_number(100 * note.value, 2)} %"
    )


def _not_converged(note: Note) -> str:
    return (
        f"not converged: the last step still changed a voltage by {plain_number(note.value, 2)} V"
    )


def _coarse_steps(note: Note) -> str:
    return f"coarse steps: averages are good to about {plain_number(100 * note.value, 1)} % only"


def _balance(what: str) -> Callable[[Note], str]:
    def words(note: Note) -> str:
        off, limit = (f"{plain_number(100 * x, 2)} %" for x in (note.value, note.limit or 0.0))
        return f"{what} balance: off by {off}, more than {limit}"

    return words


def _warm_wire(note: Note) -> str:
    good = f"{plain_number(100 * note.value, 1)} %"
    return f"resistances of warm wire are good to about {good} only"


def _left_out(note: Note) -> str:
    names = str(note.facts["sections"]).split()
    sections = " and ".join(f'no "{name}"' for name in names)
    losses = " and ".join(f"of {LOSSES[name]}" for name in names)
    return f"the file has {sections}; losses {losses} are left out: the real crank goes harder"


def _near_magnets(note: Note) -> str:
    return (
        f"the magnets of rotors {note.facts['first']} and {note.facts['second']} come so near that "
        f"their torque is good to some {share(note.value, 1)} only"
    )


def _near_iron(note: Note) -> str:
    return (
        f"the torque of iron on the magnets of rotor {note.facts['rotor']} is good to some "
        f"{share(note.value, 1)} only"
    )


_HYSTERESIS = (
    "of the heat in the iron only that of eddy currents is reckoned with; its hysteresis, which is "
    "not modelled, takes more"
)

_STILL_IRON = (
    "iron counts here as in a field that stands still: eddy currents in it, which at speed take "
    "some of the voltage, are left out"
)


_SENTENCES: dict[Doubt, Callable[[Note], str]] = {
    Doubt.SHIFTED_SPEEDS: _shifted_speeds,
    Doubt.NOT_CONVERGED: _not_converged,
    Doubt.COARSE_STEPS: _coarse_steps,
    Doubt.CHARGE_BALANCE: _balance("charge"),
    Doubt.ENERGY_BALANCE: _balance("energy"),
    Doubt.WARM_WIRE: _warm_wire,
    Doubt.NEAR_MAGNETS: _near_magnets,
    Doubt.LEFT_OUT: _left_out,
    Doubt.NEAR_IRON: _near_iron,
    Doubt.STILL_IRON: lambda _: _STILL_IRON,
    Doubt.HYSTERESIS: lambda _: _HYSTERESIS,
}
