"""The sessions of the staged club: what the site and its browsers agree on."""

from datetime import date

FIRST_DATE = date(2026, 1, 1)
EVENINGS = 30
