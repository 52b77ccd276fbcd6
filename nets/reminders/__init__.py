"""What people are told about their duties: reminders, changes, and chairs in doubt.

`wishes` looks at the records and says what the ledger should hold; `letters` writes each notice when it is
sent, from the records as they are then; `history` knows what somebody was told last.
"""
