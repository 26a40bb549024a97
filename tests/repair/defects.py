"""Every defect that a case is made of.

It must not mend anything.
"""

from __future__ import annotations

from tests.repair.defects_of_files import CONTAINERS, LAYOUT, STILLS
from tests.repair.defects_of_pictures import PICTURES
from tests.repair.defects_of_sound import SOUNDS

CASES = (*CONTAINERS, *PICTURES, *SOUNDS, *STILLS, *LAYOUT)
