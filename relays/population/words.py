"""Numbers of people as they are said."""

from __future__ import annotations

#: Said where nothing can be counted.
NONE_IMPORTED = (
    "People are not counted, because no population raster has been imported; "
    "an officer can add one with manage.py import_population."
)


def about(people: float) -> str:
    """ "about 12,400 people": three digits of a large number, two of a small one, and none made up."""
    if people < 0.5:
        return "nobody"
    if people < 10.0:
        return "fewer than 10 people"
    return f"about {rounded(people)} people"


def rounded(people: float) -> str:
    """12,400 of 12,437; 350 of 347; 10 of 9.6."""
    digits = 3 if people >= 1000.0 else 2
    whole = f"{people:.{digits - 1}e}"
    return f"{float(whole):,.0f}"


def of_the_map(people: float, on_the_map: float) -> str:
    """ "about 12,400 people, of the 31,000 on the map"."""
    if on_the_map < 0.5:
        return "nobody lives on the map"
    return f"{about(people)}, of the {rounded(on_the_map)} on the map"
