"""Rows of a magnetisation curve: read from a user's file, and refused where no steel can have them."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite
from pathlib import Path

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.plain_file import read_plain

MAX_POLARISATION = 2.5
"""No alloy carries more polarisation [T]: iron-cobalt, the highest, has about 2.4 T, printed for permendur."""

SLOPE_TOLERANCE = 1e-3
"""Relative shortfall of dB/dH below MU0 that is put down to the rounding of a printed table."""

STEEPEST = 1e7
"""Times air's slope [-]: the softest alloys reach a tenth of it (supermalloy, from memory)."""

STRONGEST = 1e7
"""Largest field strength in a table [A/m]: air alone then carries 12.6 T."""

MOST_OFF = 3.0
"""Largest share by which a field strength may be off: then nothing is known of it."""

MOST_BYTES = 1_000_000
"""Of a user's table: some 50 000 rows."""

HEADER = ("H_A_per_m", "B_T")
WITHIN = "H_within"
"""Header of a third column, where there is one: by how much of itself the field strength may be off, nine times out of
ten [-]."""


def read_rows(path: Path) -> tuple[list[int], Floats]:
    """Read rows from a CSV file with the header `H_A_per_m,B_T` or `H_A_per_m,B_T,H_within`; lines with # are skipped.

    Returns
    -------
    Line number of each row, and the rows, shape (n, 2) or (n, 3): H [A/m], B [T], by how much H may be off [-].

    Raises
    ------
    ValueError
        If a line cannot be used: one line of text with the file, the line, what is wrong and what is allowed.
    OSError
        If the file cannot be opened.
    """
    lines: list[int] = []
    rows: list[tuple[float, ...]] = []
    header: tuple[str, ...] | None = None
    for number, line in enumerate(read_plain(path, MOST_BYTES).splitlines(), start=1):
        where = f"{path.name}, line {number}"
        try:
            text = line.decode("utf-8-sig").strip()
        except UnicodeDecodeError as error:
            msg = f"{where}: byte {error.start + 1} is not UTF-8 text; save the table as plain UTF-8 CSV"
            raise ValueError(msg) from None
        if not text or text.startswith("#"):
            continue
        cells = tuple(cell.strip() for cell in text.split(","))
        if header is not None:
            rows.append(_numbers(where, cells, header))
            lines.append(number)
        elif cells in (HEADER, (*HEADER, WITHIN)):
            header = cells
        else:
            msg = f"{where}: header is {text[:60]!r}; it must be {','.join(HEADER)!r}"
            raise ValueError(msg)
    if header is None:
        msg = f"{path.name}: the file has no table; it must start with the header {','.join(HEADER)!r}"
        raise ValueError(msg)
    return lines, np.array(rows, dtype=np.float64).reshape(-1, len(header))


def _numbers(where: str, cells: Sequence[str], header: Sequence[str]) -> tuple[float, ...]:
    wanted = "two numbers, H [A/m] and B [T]" if len(header) == 2 else f"three numbers, {','.join(header)}"
    try:
        found = tuple(float(cell) for cell in cells)
    except ValueError:
        found = ()
    if len(found) != len(header):
        msg = f"{where}: {','.join(cells)[:60]!r} is not a row; it must be {wanted}"
        raise ValueError(msg)
    if len(found) > 2 and not 0 <= found[2] <= MOST_OFF:
        msg = f"{where}: {WITHIN} {cells[2][:60]} must lie within 0 and {MOST_OFF:g}, a share of the field strength"
        raise ValueError(msg)
    return found


def check_rows(name: str, labels: Sequence[int], H: Floats, B: Floats, J_s: float | None, row: str = "row") -> None:
    """Refuse the first row that no steel can have.

    Parameters
    ----------
    name
        Of the file or grade, for the message.
    labels
        Number of each row, for the message.
    H, B
        Field strength [A/m] and flux density [T], (n,).
    J_s
        Saturation polarisation [T], if known.
    row
        What the numbers count.

    Raises
    ------
    ValueError
        If a row does not rise, rises less than air does, or contradicts J_s.
    """
    if J_s is not None and not 0 < J_s <= MAX_POLARISATION:
        msg = f"{name}: saturation polarisation {J_s:g} T must lie above 0 and not above {MAX_POLARISATION:g} T"
        raise ValueError(msg)
    if H.size < 3:
        msg = f"{name}: {H.size} rows; at least 3 are needed, the first 0,0"
        raise ValueError(msg)
    fault: tuple[int, str] | None = None
    if H[0] != 0 or B[0] != 0:
        fault = (0, f"starts at {H[0]:g} A/m, {B[0]:g} T; the first row must be 0,0")
    for k in range(H.size if fault is None else 0):
        pair = f"{H[k]:g} A/m, {B[k]:g} T"
        if not (isfinite(H[k]) and isfinite(B[k])):
            fault = (k, f"{pair} is not finite")
        elif k and (H[k] <= H[k - 1] or B[k] <= B[k - 1]):
            fault = (k, f"{pair} after {H[k - 1]:g} A/m, {B[k - 1]:g} T; both columns must rise")
        elif k and (slope := (B[k] - B[k - 1]) / (H[k] - H[k - 1])) < MU0 * (1 - SLOPE_TOLERANCE):
            fault = (
                k,
                f"slope from the row before is {slope:.5g} H/m; air alone gives {MU0:.5g} H/m, so drop this row",
            )
        elif B[k] - MU0 * H[k] > MAX_POLARISATION:
            fault = (k, f"polarisation at {pair} is above {MAX_POLARISATION:g} T, more than any alloy has; is B in T?")
        elif k and (B[k] - B[k - 1]) > STEEPEST * MU0 * (H[k] - H[k - 1]):
            fault = (k, f"{pair} is steeper than {STEEPEST:g} times air, which no alloy is; is H in A/m?")
        elif H[k] > STRONGEST:
            fault = (k, f"{pair} is beyond {STRONGEST:g} A/m; is H in A/m?")
        elif J_s is not None and (J := B[k] - MU0 * H[k]) > J_s * (1 + 1e-9):
            fault = (k, f"polarisation {J:.4f} T at {pair} is above the saturation polarisation {J_s:g} T")
        if fault is not None:
            break
    if fault is None and J_s is not None:
        J = B[-2:] - MU0 * H[-2:]
        # A rise by less than a millionth of what is missing is rounding, and would never get there.
        if (missing := J_s - J[1]) > 1e-9 * J_s and J[1] - J[0] <= 1e-6 * missing:
            last = H.size - 1
            fault = (
                last,
                f"polarisation stands still at {J[1]:.4f} T, below the saturation polarisation {J_s:g} T; drop rows",
            )
    if fault is not None:
        msg = f"{name}, {row} {labels[fault[0]]}: {fault[1]}"
        raise ValueError(msg)
