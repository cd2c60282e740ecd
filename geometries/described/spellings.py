"""What people type for a number, a unit or a metal, brought to the one way that is read; meaning stays strictly SI's.

"m" and "M" are never taken for each other, and no word is guessed: what is not listed is left as it is, to be refused.
"""

from __future__ import annotations

import re
from decimal import Context, Decimal
from functools import lru_cache
from unicodedata import normalize

_PARTS = re.compile(
    r"([+-]?)(?:([0-9]{1,6})(?:\s+|\s*-\s*))?([0-9]{1,6})\s?/\s?([0-9]{1,6})(?![0-9])\s*(.*)", re.DOTALL
)
_ONE_SIGN = re.compile("[¼½¾⅛⅜⅝⅞]")
_COMMA = re.compile(r"([+-]?[0-9]{1,9}),([0-9]{1,9})(?![0-9])\s*([^,]*)", re.DOTALL)
_SQUARE = r"(?i:sq(?:uared?)?\.?|²)"
_AC = r"(?:\s?(?:~|(?i:ac|a\.c\.|rms|r\.m\.s\.)))?"
_SPELT: dict[str, tuple[tuple[str, str], ...]] = {
    "length": (('(?i:inch(?:es)?|ins?\\.?)|["″”]', "in"), ("(?i:(milli|centi)?met(?:er|re)s?)", r"\1meter")),
    "area": (
        (rf"{_SQUARE}\s*([a-z]+)", r"\1**2"),
        (rf"([a-z]+?)\s*{_SQUARE}", r"\1**2"),
        ("(?i:mcm|kcmil)", "kcmil"),
    ),
    "voltage": ((rf"(?i:v(?:olts?)?){_AC}", "V"), (rf"([mk])V{_AC}", r"\1V")),
    "current": ((rf"(?i:a(?:mp(?:ere)?s?)?\.?){_AC}", "A"), (rf"([mk])A{_AC}", r"\1A")),
    "frequency": (("(?i:hz|hertz)", "Hz"), ("k(?i:hz)", "kHz")),
    # all in capitals MOHM might be either: left alone, and refused
    "resistance": (
        ("([mkuµM]?)(?:[Oo]hms?|Ω)", r"\1ohm"),
        ("(?i:ohms?)", "ohm"),
        ("(?i:(milli|micro|kilo|mega?)[ -]?ohms?)", r"\1ohm"),
    ),
    "flux density": (("(?i:teslas?)", "T"),),
    "duration": (("s|(?i:sec(?:ond)?s?\\.?)", "s"), ("(?i:min(?:ute)?s?\\.?)", "min")),
    "temperature": (("(?:[°º˚]|(?i:deg(?:ree)?s?\\.?))\\s?([CFK])", r"deg\1"), ("(?i:celsius)", "degC")),
    "fraction": (("(?i:per ?cent|pct)", "%"),),
}
_FULL = {"degK": "K", "megohm": "Mohm", "Milliohm": "milliohm"}
_METALS = {
    "aluminum": "aluminium",
    "alu": "aluminium",
    "al": "aluminium",
    "cu": "copper",
    "cca": "copper-clad aluminium",
}


def decimal_number(text: str) -> str:
    """Write a leading fraction as a decimal number: "1 1/2 in", "1-1/2 in" and "1½ in" are "1.5 in".

    A text without one is returned as it is. Thirds have 28 digits.
    """
    if (text := text.strip()).isascii() and "/" not in text:
        return text
    # a fraction of one character is parted from the whole number that it follows
    plain = _ONE_SIGN.sub(lambda found: f" {normalize('NFKC', found[0])}", text).strip().replace("\u2044", "/")
    found = _PARTS.match(plain)
    if found is None or not int(found[4]):
        return text
    sign, whole, above, below, rest = found.groups()
    number = Context(prec=28).divide(Decimal(int(whole or 0) * int(below) + int(above)), Decimal(int(below)))
    return f"{sign}{number:f} {rest}".rstrip()


@lru_cache(maxsize=256)
def common_unit(unit: str, dimension: str) -> str:
    """Return a unit as it is usually written: "Hz" for "hz", "mohm" for "mOhm", "mm**2" for "sq mm".

    Parameters
    ----------
    unit
        Powers, micro and ohm signs already in one way: see `normal_unit`.
    dimension
        Name of the quantity it is wanted for; what a text means may hang on that.
    """
    unit = " ".join(unit.replace("\u2103", "°C").replace("\u2109", "°F").split())
    for pattern, usual in _SPELT.get(dimension, ()):
        if found := re.fullmatch(pattern, unit):
            written = found.expand(usual)
            written = written.lower() if len(written) > 5 and "**" not in written else written
            return _FULL.get(written, written)
    return unit


def comma_hint(text: str) -> str:
    """Say how a number with a comma is to be written; empty where there is no comma in a number."""
    found = _COMMA.fullmatch(text.strip())
    if found is None:
        return "write a decimal point, not a comma" if re.search("[0-9],[0-9]", text) else ""
    whole, digits, unit = found.groups()
    pointed = f"{whole}.{digits} {unit.strip()}".rstrip()
    if len(digits) == 3 and whole.lstrip("+-0"):
        return f"write {pointed}, or {whole}{digits} {unit.strip()} if the comma parts thousands"
    return f"write {pointed}"


def common_metal(name: object) -> object:
    """Return a metal's name as the tables have it: "copper" for "Copper" or "Cu", "aluminium" for "aluminum"."""
    if not isinstance(name, str):
        return name
    plain = " ".join(name.split())
    return _METALS.get(plain.lower(), plain.lower() if plain.isupper() else plain[:1].lower() + plain[1:])
