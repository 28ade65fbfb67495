"""Each fault of the sound is told once, whenever it comes."""

from __future__ import annotations

from trainer.session.port_watch import PortState, PortWatch
from trainer.sound.simulated import SimulatedPort


def test_every_fault_is_told_once_in_its_order() -> None:
    port = SimulatedPort()
    watch = PortWatch(port)
    told = []
    for what in ("one", "two", "three"):
        port.fail(what)
        told.append(watch.new_faults())
    assert told == [("one",), ("two",), ("three",)]
    assert watch.new_faults() == ()


def test_a_device_that_was_gone_is_back_once() -> None:
    port = SimulatedPort()
    watch = PortWatch(port)
    port.lose("gone")
    assert watch.look() is PortState.GONE
    port.come_back("back")
    assert [watch.look(), watch.look()] == [PortState.BACK, PortState.THERE]
