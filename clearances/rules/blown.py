"""May a device be closed again that did not hold?"""

from .clauses import PATROL
from .refusal import Refusal

MOST = 1  # blows after which it is closed again without a patrol


def may_close_again(device: str, *, blows: int, patrolled: bool) -> tuple[Refusal, ...]:
    """After a second blow only once somebody has gone along what it feeds. `blows`: how often it dropped
    since it last held; `patrolled`: a patrol was reported since the last of them.
    """
    if blows <= MOST or patrolled:
        return ()
    text = f"{device} has dropped {blows} times since it last held, and nobody has reported a patrol since."
    way = f"Have the line behind {device} patrolled and the finding reported."
    return (Refusal("patrol_first", device, text, PATROL, way),)
