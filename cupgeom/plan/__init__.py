"""The order of work and its times: steps, tasks, waits and windows, one rack and one pair of hands.

``steps`` (`Step`) → `findings` of the craft; `order_of` makes tasks with waits and windows of them; `schedule` lays the
tasks of several lots down; `replan` goes on from what is done; `due` says what may and must be done now.
"""

from cupgeom.plan.craft import findings
from cupgeom.plan.done import read_done, with_done
from cupgeom.plan.drying import Drying
from cupgeom.plan.event import Calendar, Event, calendar_of
from cupgeom.plan.hours import DAYS, Hours, minute_of, moment
from cupgeom.plan.network import Clash, Limit, Window, spell, windows
from cupgeom.plan.now import Due, due, replan
from cupgeom.plan.order import HANDS, Order, Task, lot_sizes, order_of
from cupgeom.plan.schedule import Lot, Placed, Schedule, schedule
from cupgeom.plan.shorten import Change, lateness, shortenings
from cupgeom.plan.step import COATS, KINDS, RESIN, Kind, Piece, Step, Zone, coats, names
from cupgeom.plan.taken import Bench

__all__ = [
    "COATS",
    "DAYS",
    "HANDS",
    "KINDS",
    "RESIN",
    "Bench",
    "Calendar",
    "Change",
    "Clash",
    "Drying",
    "Due",
    "Event",
    "Hours",
    "Kind",
    "Limit",
    "Lot",
    "Order",
    "Piece",
    "Placed",
    "Schedule",
    "Step",
    "Task",
    "Window",
    "Zone",
    "calendar_of",
    "coats",
    "due",
    "findings",
    "lateness",
    "lot_sizes",
    "minute_of",
    "moment",
    "names",
    "order_of",
    "read_done",
    "replan",
    "schedule",
    "shortenings",
    "spell",
    "windows",
    "with_done",
]
