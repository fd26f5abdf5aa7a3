"""How the tests are spread over workers: module by module, and with few words between the processes."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from xdist.scheduler import LoadFileScheduling  # type: ignore[import-untyped]  # it has no stubs


class ByModule(LoadFileScheduling):  # type: ignore[misc]  # the same
    """Give whole modules to the workers: what a module prepares for its tests is prepared once.

    What is done is let go of: the scheduler counts all that a worker ever had with each word that a worker says. Where
    a test stands among all is looked up: it is searched for from the first on, test by test.
    """

    def mark_test_complete(self, node: object, item_index: int, duration: float = 0) -> None:
        """Note that a worker is done with a test."""
        nodeid = self.registered_collections[node][item_index]
        scope = self._split_scope(nodeid)
        left = self.assigned_work[node][scope]
        del left[nodeid]
        if not left:
            del self.assigned_work[node][scope]
        self._reschedule(node)

    @cached_property
    def _place(self) -> dict[str, int]:
        # all workers have collected the same, in the same order
        return {nodeid: place for place, nodeid in enumerate(self.collection or ())}

    def _assign_work_unit(self, node: Any) -> None:
        scope, unit = self.workqueue.popitem(last=False)
        self.assigned_work.setdefault(node, {})[scope] = unit
        node.send_runtest_some([self._place[nodeid] for nodeid, done in unit.items() if not done])

    def _pending_of(self, workload: dict[str, dict[str, bool]]) -> int:
        return sum(map(len, workload.values()))
