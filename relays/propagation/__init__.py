"""Radio and ground: numbers and arrays in, numbers and arrays out.

Nothing here knows a database, a setting, a file or a clock.
"""
