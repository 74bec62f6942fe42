"""What to mind at the bench, in lines for the wall; official bodies are cited, and the data sheet rules.

Sources: hazard statements H315, H317, H319 and H225, as safety data sheets of epoxy resins and of isopropanol bear
them; 21 CFR 175.300 (US) and Regulations (EC) 1895/2005, (EU) 2024/3190 on coatings that touch food. Everything without
a number behind it is common practice without a source.
"""

from __future__ import annotations

SPRAY_LAYERS = 3  # thin clear ones that seal a printed water-slide film before resin: common practice
SPRAY_REST_MIN = 30.0  # after them, on the cup, before resin: common practice
BURIED_BY = 2  # coats that bury a decal: common practice

CAUTIONS = (
    "The product's own data sheet and local rules come before all of this.",
    "Gloves and fresh air: uncured resin irritates skin and eyes and may cause an allergy (H315, H319, H317).",
    "A large pot heats itself and can smoke: keep to the largest batch, pour it out wide, cure left-overs outdoors.",
    "Heat low and moving, never near wet alcohol, cleaner or aerosol (H225); never heat a sealed double wall beyond its"
    " maker's word.",
    "Sand only what is hard through, wet, with mask and goggles: half-cured dust sensitises. No dust in the air.",
    "Lip and inside stay bare; in service only after the full cure; wash by hand; no microwave.",
    "Whether a cup may touch food is a matter of the whole cured system and the law (21 CFR 175.300; EU 1895/2005,"
    " 2024/3190).",
)
ADVICE = (
    "A wait before the next coat is none before sanding, washing or decals: those need a coat that is hard through.",
    f"Over a printed water-slide film: {SPRAY_LAYERS} thin clear spray layers, {SPRAY_REST_MIN:.0f} min rest on the"
    f" cup, then resin; a rub-on transfer can be coated at once; {BURIED_BY} more coats bury either.",
    "Before the last coats sand the wall's top edge to metal, so that they bond outside, not on the drinking edge.",
)
