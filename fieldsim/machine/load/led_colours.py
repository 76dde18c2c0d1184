"""Generic lamps by colour: common practice, no published source.

Ordinary 5 mm LEDs: two points of the forward curve, at 1 mA and at 20 mA, rated at 20 mA, 100 mA
for moments. Parts of one colour differ by some tenths of a volt; where it matters, state the data
sheet's forward voltage.
"""

from __future__ import annotations

from fieldsim.machine.load.circuit_parts import Led

__all__ = ["GENERIC_VOLTAGES_V", "SMALL_A", "USUAL_A", "generic_led"]

SMALL_A = 1e-3
USUAL_A = 20e-3

GENERIC_VOLTAGES_V = {
    "infrared": (1.05, 1.25),
    "red": (1.70, 2.00),
    "orange": (1.75, 2.05),
    "amber": (1.80, 2.10),
    "yellow": (1.80, 2.10),
    "yellow-green": (1.85, 2.15),
    "green": (2.60, 3.00),
    "blue": (2.70, 3.15),
    "white": (2.75, 3.20),
    "warm white": (2.70, 3.10),
    "violet": (2.90, 3.30),
    "ultraviolet": (3.05, 3.50),
}
"""Forward voltage [V] at 1 mA and at 20 mA (common practice, no published source)."""


def generic_led(colour: str, name: str = "") -> Led:
    """Return an ordinary LED of a colour.

    Raises
    ------
    ValueError
        If the colour is not in `GENERIC_VOLTAGES_V`.

    Examples
    --------
    >>> round(generic_led("green").voltage_V(0.001), 3)
    2.6
    """
    if colour not in GENERIC_VOLTAGES_V:
        raise ValueError(f'no LED colour "{colour}"; there are: {", ".join(GENERIC_VOLTAGES_V)}')
    low_V, usual_V = GENERIC_VOLTAGES_V[colour]
    return Led.from_data_sheet(
        usual_V, USUAL_A, low_point=(low_V, SMALL_A), colour=colour, name=name
    )
