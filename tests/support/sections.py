"""Sections written out by hand, so that the solver's tests stand apart from the package's own section builders."""

from collections.abc import Mapping

from geometries.shapes.section import Cut, Region, Role, Section

MM = 1e-3

Coils = Mapping[str, tuple[float, float, float, float]]


def shell(
    coils: Coils,
    *,
    leg: float = 40 * MM,
    outer_leg: float = 20 * MM,
    yoke: float = 20 * MM,
    window: tuple[float, float] = (20 * MM, 60 * MM),
    gap: float = 0.0,
    margin: float = 60 * MM,
    shift: float = 0.0,
) -> Section:
    """Return an E-I core with coils; a joint at the top of all three legs where gap > 0.

    Parameters
    ----------
    coils
        For each winding x0, x1, y0, y1 of its right side [m]; the left side is its mirror image.
    leg, outer_leg, yoke, window, gap, margin
        Sizes [m].
    shift
        Moves everything along x [m]: breaks the symmetry about x = 0 and changes nothing else.
    """
    a, b, h = leg / 2, leg / 2 + window[0], window[1]
    edge = b + outer_leg
    iron = [("lower yoke", -edge, edge, -yoke, 0.0), ("upper yoke", -edge, edge, h, h + yoke)]
    joints = []
    for name, x0, x1 in (("centre leg", -a, a), ("left leg", -edge, -b), ("right leg", b, edge)):
        iron.append((name, x0, x1, 0.0, h - gap))
        if gap:
            joints.append((f"{name} joint", x0, x1, h - gap, h))
    regions = [Region(name=n, role=Role.IRON, x0=p, x1=q, y0=r, y1=s) for n, p, q, r, s in iron]
    regions += [Region(name=n, role=Role.JOINT, x0=p, x1=q, y0=r, y1=s) for n, p, q, r, s in joints]
    for name, (x0, x1, y0, y1) in coils.items():
        for sense, p, q in ((1, x0, x1), (-1, -x1, -x0)):
            regions.append(
                Region(
                    name=f"{name} {sense:+d}", role=Role.CONDUCTOR, winding=name, sense=sense, x0=p, x1=q, y0=y0, y1=y1
                )
            )
    cuts = (
        Cut(name="leg", x0=a, y0=h / 2, x1=-a, y1=h / 2),
        Cut(name="right", x0=b, y0=h / 2, x1=edge, y1=h / 2),
        Cut(name="left", x0=-edge, y0=h / 2, x1=-b, y1=h / 2),
        Cut(name="right window", x0=a, y0=h / 2, x1=b, y1=h / 2),
        Cut(name="left window", x0=-b, y0=h / 2, x1=-a, y1=h / 2),
        Cut(name="outside right", x0=edge, y0=h / 2, x1=edge + margin, y1=h / 2),
        Cut(name="outside left", x0=-edge - margin, y0=h / 2, x1=-edge, y1=h / 2),
        Cut(name="upper yoke right", x0=(a + b) / 2, y0=h, x1=(a + b) / 2, y1=h + yoke),
    )
    return moved(
        Section(
            regions=tuple(regions),
            outline=(-edge - margin, -yoke - margin, edge + margin, h + yoke + margin),
            cuts=tuple(c for c in cuts if margin or not c.name.startswith("outside")),
        ),
        shift,
    )


def moved(section: Section, shift: float) -> Section:
    """Return the section moved along x [m]."""
    if not shift:
        return section
    x0, y0, x1, y1 = section.outline
    keys = ("name", "role", "y0", "y1", "winding", "sense")
    regions = tuple(
        Region(**{k: getattr(r, k) for k in keys}, x0=r.x0 + shift, x1=r.x1 + shift) for r in section.regions
    )
    cuts = tuple(Cut(name=c.name, x0=c.x0 + shift, y0=c.y0, x1=c.x1 + shift, y1=c.y1) for c in section.cuts)
    return Section(regions=regions, outline=(x0 + shift, y0, x1 + shift, y1), cuts=cuts)


SIDE_BY_SIDE: Coils = {
    "primary": (22 * MM, 38 * MM, 2 * MM, 30 * MM),
    "secondary": (22 * MM, 38 * MM, 34 * MM, 57 * MM),
}
"""Two coils on the leg of `shell()`, with clearances."""
