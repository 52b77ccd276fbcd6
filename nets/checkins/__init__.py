"""Check-ins: what net control writes down while the club is on the air.

`typed` reads what was typed, `keeping` opens and closes, `entries` writes and corrects, `rollcall` keeps the
list to call, `names` completes call signs, `sync` talks to the page, `sheet` reads check-ins from a table.
"""
