"""What has to stand on every sheet that a crew takes along.

The usual cautions of the trade: common practice, no source. Local rules and licensed people decide.
"""

from __future__ import annotations

SHEET_CAUTIONS = (
    "Before a valve is turned: tell the fire service and the control room, then every customer "
    "who loses water. Critical users agree first; ask for dialysis at home, sprinklers and hose "
    "reels that no map knows.",
    "For licensed people under the local rules alone. The map may be wrong: prove on the spot that "
    "the stretch is dry, and stays dry, before anybody digs or cuts.",
    "Traffic: signs, lights and guards as the local rules for work in roads say. Chambers: stay "
    "out without the procedure for confined spaces, gas tested, one person above.",
    "Digging: other services located and marked first, hand tools near them, sides supported.",
    "Afterwards: open slowly from one end with air let out, flush until clear, disinfect and "
    "sample as the local rules for water quality say; leave every valve as it was found, and write "
    "down any that was not.",
)
