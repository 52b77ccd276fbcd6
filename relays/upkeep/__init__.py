"""The upkeep of sites and relays: what is due, what was read off the meters, what runs out, who holds a key.

`rhythm`, `trend` and `hazards` are plain decisions; `due`, `records`, `readings`, `renewals` and `keys` are verbs over
the rows; `people` knows who can be asked; `wishes` and `letters` are the notices.
"""
