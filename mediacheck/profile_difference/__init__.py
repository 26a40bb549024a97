"""What a file or a card that fits one profile would lack on another player.

It must not open a file or a card, nor judge one: two profiles are held against each other, limit by limit.
"""

from mediacheck.profile_difference.difference import lacks
from mediacheck.profile_difference.model import Lack

__all__ = ["Lack", "lacks"]
