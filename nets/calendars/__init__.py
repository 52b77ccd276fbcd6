"""iCalendar out of plain values: zones, identities, events, invites and whole feeds (RFC 5545, 5546, 7986).

Nothing here reads a database, a setting or the clock: the same input gives the same bytes.
"""
