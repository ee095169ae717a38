"""How far words reach over others, counted in words that carry something unless said otherwise."""

from typing import Final

#: A hedge, a plan or a "used to".
CUE_REACH: Final = 6
SUPPOSED_REACH: Final = 2
GONE_REACH: Final = 3
PLACE_REACH: Final = 8
NEXT_TO: Final = 2
#: Characters behind a hit in which the next word stands.
NEXT_WORD: Final = 16
#: Characters before a word in which the word before it is looked for.
NEAR: Final = 12
