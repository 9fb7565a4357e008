"""The bench: from what the hand does to edits of the job, and from the job to what the panels show.

The job lives in the store, results live in the pipeline and here, and both can be thrown away. Nothing here draws.
Slow work is posted to the runner; its replies are put where the next repaint finds them.
"""

from app.bench.bench import Bench
from app.bench.state import Mode, Proved, Results, View

__all__ = ["Bench", "Mode", "Proved", "Results", "View"]
