"""The rota: who takes which chair.

`problem`, `rules`, `model`, `solver` and `reasons` are pure: people, seats and turns in, turns and sentences
out. The other modules fetch those from the club's records and put the answer back.
"""
