"""Where the apps above the plant are asked before a change of the plant, or act in the same transaction after it.

`assets` may not import them; each of them adds its functions in its AppConfig.ready. A taker may raise Refusal, which
undoes the whole act. A contract test names every list and its takers.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from assets.history import Act
from assets.models import Asset, Fitting, Person, Position, Reading, Site

# A site that has just been started, in the act that started it.
after_start_site: list[Callable[[Act, Site], None]] = []
# A new fitting, in the act that made it.
after_fit: list[Callable[[Act, Fitting], None]] = []
# A fitting that ended, in the act that ended it.
after_take_out: list[Callable[[Act, Fitting], None]] = []
# A position, asset or person about to be retired at a moment.
before_retire: list[Callable[[Position | Asset | Person, dt.datetime], None]] = []
# A position or asset that has just been retired.
after_retire: list[Callable[[Act, Position | Asset], None]] = []
# A rule or a holiday of a site that has just been set or withdrawn.
after_days_change: list[Callable[[Act, Site], None]] = []
# A unit (None: the whole plant) that was started or stopped, or a stretch of its running that was withdrawn.
after_running_change: list[Callable[[Act, Site, Position | None], None]] = []
# A reading that has just been written or corrected.
after_reading: list[Callable[[Act, Reading], None]] = []
