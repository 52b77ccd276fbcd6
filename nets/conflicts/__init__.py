"""Conflicts, each named with both sides and a way out.

`airtime` finds meetings that want one channel, `people` and `privileges` what is wrong with who is in a chair,
`channels` relays and frequencies that cannot be used, `outages` relays that are silent that evening; `survey` asks
them all.
"""

from nets.conflicts.airtime import Clash, Meeting, require_free, require_net_free
from nets.conflicts.conflict import Conflict
from nets.conflicts.survey import coming, of_session

__all__ = ["Clash", "Conflict", "Meeting", "coming", "of_session", "require_free", "require_net_free"]
