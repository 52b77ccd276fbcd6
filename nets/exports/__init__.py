"""The log of a session in other people's formats: ADIF, a communications log on paper, a table."""
