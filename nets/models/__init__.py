from nets.models.feeds import FeedKey, StoredCalendar
from nets.models.nets import Net
from nets.models.rota import Absence, Duty
from nets.models.sessions import Session

__all__ = ["Absence", "Duty", "FeedKey", "Net", "Session", "StoredCalendar"]
