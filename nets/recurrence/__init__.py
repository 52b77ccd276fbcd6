"""When a net meets: RFC 5545 rules, their occurrences and their words. No Django, no settings, no clock."""

from nets.recurrence.expansion import Occurrence, first_occurrence, for_feed, last_occurrence, occurrences
from nets.recurrence.rules import (
    DAY_CODES,
    ContradictoryRule,
    NeverMeets,
    Rule,
    RuleError,
    UnreadableRule,
    UnsupportedRule,
    Weekday,
)
from nets.recurrence.words import (
    PlainChoices,
    in_words,
    monthly_by_day,
    monthly_by_weekday,
    plain_choices,
    weekly,
)

__all__ = [
    "DAY_CODES",
    "ContradictoryRule",
    "NeverMeets",
    "Occurrence",
    "PlainChoices",
    "Rule",
    "RuleError",
    "UnreadableRule",
    "UnsupportedRule",
    "Weekday",
    "first_occurrence",
    "for_feed",
    "in_words",
    "last_occurrence",
    "monthly_by_day",
    "monthly_by_weekday",
    "occurrences",
    "plain_choices",
    "weekly",
]
