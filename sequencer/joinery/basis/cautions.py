"""The cautions that go on a card, each with its citation.

They remind and do not replace local law, the machine's own manual or training; nothing here claims compliance.
"""

from __future__ import annotations

from sequencer.operations import Caution

OSHA = "29 CFR 1910.213"

GUARDS = Caution(
    says="Guard and riving knife on, and set for this cut; keep push sticks within reach.",
    source=f"{OSHA}(c)(1), (c)(2) and (s)(9); HSE WIS16",
)
CROSSCUT = Caution(
    says="Never crosscut between blade and rip fence: the gauge guides, the fence stays clear of work and offcut.",
    source=f"{OSHA}(a)(6), (a)(7) and (d)(1); common practice, no source for the trapped offcut",
)
TILTED = Caution(
    says="The offcut of a bevel must lie free, never trapped under the tilted blade.",
    source=f"{OSHA}(a)(6): fence parallel to the blade at any tilt; common practice, no source for the offcut",
)
GROOVING = Caution(
    says="Where the guard must come off, featherboards or a jig hold the work; put the guard back at once.",
    source=f"{OSHA}(a)(15) and (c)(2); HSE WIS16",
)
PLUNGING = Caution(
    says="Clamp the work; the cutter grabs most in end grain, so let it come to speed and plunge slowly.",
    source="OSHA Woodworking eTool, hand-held routers",
)
SHORT = Caution(
    says="The piece is short for this machine: hold it on a carrier, or cut before it becomes short.",
    source=f"{OSHA}(s)(9); common practice, no source for the length",
)
SHORT_MILLING = Caution(
    says="Short stock tips and is thrown at planer and thicknesser: mill it in a longer length, with push blocks.",
    source=f"{OSHA}(s)(9) for push blocks; common practice, no source for the length",
)
DUST = Caution(
    says="Dust extraction and hearing protection on.",
    source="IARC vol. 100C (wood dust, Group 1); 29 CFR 1910.95, Table G-16",
)


def fragile(kind: str, at: str) -> Caution:
    """Of the sharp edge of a steep bevel, or point of a mitre; `at`: what it may lie at, "stop", "fence" or ""."""
    sharp = "point of the mitre" if kind == "mitre" else "edge of the bevel"
    given = {
        "stop": f"; give the stop the opposite {kind}",
        "fence": f"; lay an offcut of a first {kind} between it and the fence",
        "": "",
    }[at]
    return Caution(
        says=f"The sharp {sharp} is fragile: nothing bears on it{given}.",
        source="common practice, no source",
    )


def near_stop(angle: str, stop: str, check: str) -> Caution:
    """The caution for an angle that lies near a positive stop; `check`: how it is known to stand right."""
    return Caution(
        says=f"{angle} is near the positive stop at {stop}: the tool wants to fall into it. {check}.",
        source="common practice, no source",
    )
