"""Fields that tests share: each core and arrangement is solved once for all that only look at what follows from it.

What is about solving, keeping or cost must not take them from here.
"""

from fem.estimation.fields.kept import Kept

KEPT = Kept()
