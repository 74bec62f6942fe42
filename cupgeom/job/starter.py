"""A job file to begin with: an astronomy club's cups for its comet night."""

from __future__ import annotations

STARTER = """\
# One job: this cup, this many, these steps and decals. What is left out has a default; what repeats from job to job
# (cups, media, resins, printers, rates) stands in the shop file. A length is mm, or a text such as "2 3/4 in".

name = "comet night"
customer = "the astronomy club"
cup = { rim = 88, base = 70, height = 170, coated_from = 6 }   # or a name of the shop file: cup = "tapered 20"
quantity = 12
start = 2026-03-02                    # first day of work
ship = 2026-03-09                     # ready to ship on this day
places = 12                           # on the rack
# rack = 5                            # turns a minute, or the name of a rack of the shop file
# opens = "08:00"                     # working hours, and days = ["mon", "tue"]
# closes = "20:00"
# resin = "slow clear"                # of the shop file; without one an invented example stands in
# approved = "…"                      # the proof mark that the customer has approved

# From the inside out, one line a step. Kinds: mask, paint, tack, flood, sand, vein, decal, clear.
steps = [
    { do = "paint", material = "night blue", colour = "#0b1d3a", wait = "2h" },
    { do = "tack", material = "fine silver", flake = 0.4, from = "100mm", to = "base" },
    "flood",
    "flood",
    { do = "sand", edge = true },                       # hard through first; the top edge of the wall to metal
    { do = "decal", decals = ["comet", "motto"] },      # two coats lie under these, two go over them
    "clear",
    "sand",
    { do = "clear", film = "0.4mm" },                   # or ml = 16, what ends on one cup; and repeat = 2
]

[decals.comet]
art = "comet.svg"                     # seen from this file, and not outside its folder
medium = "white water-slide"          # of the shop file, or an example
width = "60mm"                        # or art_height
turn = "front"                        # front, right, back, left or degrees
drop = "60mm"                         # of its middle; or "80mm up", or top, middle, foot

[decals.motto]
text = "Clear skies"                  # \\n begins a new line
font = "script.ttf"                   # a file, or the name of a font in the shop's font folder
medium = "white water-slide"
cap_height = 8                        # or width, x_height
drop = "30mm up"
# bend = "level"                      # level, even or flat; also rotate, repeat, true_at, colour, align

# [rates]                             # where this job differs from the shop file
# postage = "6.90"
"""


def starter() -> str:
    """The text of a job file with a comment beside each key."""
    return STARTER
