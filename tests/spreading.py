"""How the tests are spread over workers: module by module, and with few words between the processes."""

from __future__ import annotations

from xdist.scheduler import LoadFileScheduling  # type: ignore[import-untyped]  # it has no stubs


class ByModule(LoadFileScheduling):  # type: ignore[misc]  # the same
    """Give whole modules to the workers: what a module prepares for its tests is prepared once.

    What is done is let go of: the scheduler counts all that a worker ever had with each word that a worker says.
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

    def _pending_of(self, workload: dict[str, dict[str, bool]]) -> int:
        return sum(map(len, workload.values()))
