"""The usual cautions of the trade for whoever goes to a line, and the boxes to sign at the end of a run.

Wording after the common rules for extrusion lines: energy control 29 CFR 1910.147, machine guarding 29 CFR 1910.212,
EN 1114-1 extruders, EN 1114-3 haul-offs, ISO 13850 emergency stop, NFPA 652 and 660 dust, lifting limits of the NIOSH
equation. A reminder and no substitute for any of them.
"""

from forecasting.messages import message

CAUTIONS = (
    message(
        "This card is advice: it starts, stops and unlocks nothing. The machine's manual, the data sheets of "
        "resin and concentrate, local codes and licensed practice come first; where they differ from this card, "
        "they hold."
    ),
    message(
        "Melt and hot surfaces, 200 °C and more: do not stand in front of the die at start-up, trapped gas can "
        "throw melt. Heat-proof gloves, sleeves and face shield at the die. Cool a burn with water and do not "
        "pull melt off the skin."
    ),
    message(
        "Nip points at puller and winder: guards shut; no gloves, loose clothing, long hair, jewellery near "
        "turning parts. Lock out and tag out before clearing a jam, changing a die or screen, or reaching into "
        "dryer, puller or winder."
    ),
    message(
        "Fumes: extraction on at the die and while purging. No hot resin left standing in the barrel; never two "
        "materials that their data sheets forbid together; purge as the data sheets say."
    ),
    message(
        "Dryers and ovens: stay below the temperatures of the data sheets for resin, filament, spool and carton; "
        "hot air on opening; a limit that cuts out by itself for what dries overnight."
    ),
    message(
        "Pellets on the floor are slippery: sweep at once. Fine dust of pigment and regrind: vacuum, do not blow "
        "off, keep away from sparks and heaters."
    ),
    message(
        "Bags, bins and large spools are heavy: use the hoist or lift in pairs. Wear hearing protection near a "
        "granulator."
    ),
    message("Heaters and cabinets: covers on, qualified persons only."),
)
# Whose word comes first, hot air, heavy loads.
OVEN_CAUTIONS = (CAUTIONS[0], CAUTIONS[4], CAUTIONS[6])
SIGN_OFFS = (message("Spools counted, scrap weighed"), message("Line handed over clean"))
