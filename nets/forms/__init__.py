"""Forms of the nets, shared by the club's pages and the office: what is typed, checked by the verbs that use it."""

from nets.forms.duty import DutyForm
from nets.forms.net import NetForm
from nets.forms.session import OfficeSessionForm

__all__ = ["DutyForm", "NetForm", "OfficeSessionForm"]
