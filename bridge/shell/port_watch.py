"""Knows: which wanted MIDI inputs are there, by asking for the list again and again; opens and closes them.

Must never know: messages, events, or stamps.

A port that is unplugged falls silent without a word; only the list tells. All MIDI systems are asked by the
one thread here, which is also the one that opened them.
"""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Callable, Sequence

from bridge.shell.live_port import LivePort
from bridge.shell.midi_api import CLIENT, MidiSystem, own_name
from bridge.shell.midi_names import Listed, merged, pick
from bridge.values.errors import DeviceError, UsageError

LONGEST_PAUSE = 128
"""Looks that what keeps failing sits out: each try holds Python's lock for up to 20 ms (midi_api.py)."""

NO_PLAYERS = (CLIENT, "Midi Through")
"""In the names of ports that send, and that play nothing by themselves: ours, and the loop of ALSA."""


class _Pause:
    """Counts the looks to sit out after a failure, twice as many each time."""

    def __init__(self) -> None:
        self._next = 1
        self._left = 0

    def over(self) -> bool:
        """One look has come; True if it is time to try."""
        self._left = max(0, self._left - 1)
        return self._left == 0

    def failed(self) -> None:
        self._left = self._next = min(2 * self._next, LONGEST_PAUSE)

    def worked(self) -> None:
        self._next, self._left = 1, 0


class PortWatch:
    """Keeps the wanted ports open while they are there, from a thread of its own.

    Args:
        systems: the MIDI systems to look in, none of them opened; closed here at the end.
        ports: the wanted ports.
        every: seconds between two looks.
        add: adds a port of this name to `ports`, called for each port that is there; None wants no others.
    """

    def __init__(
        self,
        systems: Sequence[MidiSystem],
        ports: Sequence[LivePort],
        every: float,
        add: Callable[[str], None] | None = None,
    ) -> None:
        self._systems = systems
        self._ports = ports
        self._every = every
        self._add = add
        self._pauses: defaultdict[object, _Pause] = defaultdict(_Pause)
        self._known: set[tuple[str, str]] = set()
        self._bystanders: dict[LivePort, set[tuple[str, str]]] = {}
        self._ready = threading.Event()
        self._bell = threading.Event()
        self._stop = False
        self._error: BaseException | None = None
        self.trouble = ""
        """The last mistake of ours that a look ran into; the watch goes on."""
        self._thread = threading.Thread(target=self._run, name="midi watch", daemon=True)

    def start(self) -> None:
        """Begin to watch; returns after the first look.

        Raises:
            UsageError: a part of a name fits several ports; lists them.
        """
        self._thread.start()
        self._ready.wait()
        if self._error is not None:
            self._thread.join()
            raise self._error

    def look_now(self) -> None:
        """Have the next look at once; returns at once."""
        self._bell.set()

    def close(self) -> None:
        """Close every port and system and end the thread."""
        self._stop = True
        self._bell.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        try:
            self._look(first=True)
        except BaseException as error:
            self._error, self._stop = error, True
        finally:
            self._ready.set()
        while not self._stop:
            self._bell.wait(self._every)
            self._bell.clear()
            if not self._stop:
                try:
                    self._look(first=False)
                except Exception as error:
                    self.trouble = f"{type(error).__name__}: {error}"
        for port in self._ports:
            port.detach("closed")
        for system in self._systems:
            system.close()

    def _look(self, first: bool) -> None:
        for system in self._systems:
            if system.died:
                self._bury(system)
        there = {system.word: system.inputs() for system in self._systems}
        self._miss_players(there)
        for port in self._ports:
            if port.is_open and not port.virtual and not _is_there(port, there):
                self._lose(port, "unplugged or gone; opened again as soon as it is back")
        if self._add is not None or any(not port.is_open for port in self._ports):
            self._revive(there, first)
            everything = merged(port for ports in there.values() for port in ports)
            self._add_unknown(everything)
            self._open_waiting(everything, first)
        self._known = {_key(port) for ports in there.values() for port in ports}

    def _miss_players(self, there: dict[str, tuple[Listed, ...]]) -> None:
        """Let go of the keys of our own port when the last program that may have played into it has gone.

        Nobody tells who is connected to a port of ours, but who plays has a port in the list too, and it
        goes with the program. While another is left nothing is let go: its keys may be those that are down.
        """
        heard = {_key(port.found) for port in self._ports if port.found is not None and not port.virtual}
        now = {_key(port) for ports in there.values() for port in ports}
        for port in self._ports:
            if port.virtual and port.is_open and port.found is not None:
                word = port.found.system
                if _players(self._known - heard, word) and not _players(now - heard, word):
                    port.let_go()

    def _lose(self, port: LivePort, note: str) -> None:
        port.detach(note)
        # Whoever stood by while it played is not what the player wanted, even where a part of its name fits.
        self._bystanders[port] = self._known

    def _bury(self, system: MidiSystem) -> None:
        """Close everything of a system that died; only then may it be opened anew."""
        for port in self._ports:
            if port.is_open and port.found is not None and port.found.system == system.word:
                self._lose(port, f"{system.title} ended; opened again as soon as it is back")
        system.close()

    def _revive(self, there: dict[str, tuple[Listed, ...]], first: bool) -> None:
        """Open the systems that do not answer, with growing pauses."""
        for system in self._systems:
            if system.answers or not self._pauses[system].over():
                continue
            try:
                system.open(again=not first)
            except DeviceError:
                self._pauses[system].failed()
            else:
                self._pauses[system].worked()
                there[system.word] = system.inputs()

    def _add_unknown(self, everything: Sequence[Listed]) -> None:
        if self._add is not None:
            known = {port.wanted for port in self._ports}
            for one in everything:
                if one.name not in known:
                    self._add(one.name)

    def _open_waiting(self, everything: Sequence[Listed], first: bool) -> None:
        for port in self._ports:
            if port.is_open or not self._pauses[port].over():
                continue
            try:
                if port.virtual:
                    self._open_virtual(port)
                else:
                    self._open_found(port, everything, first)
            except DeviceError as error:
                port.note = str(error)
                self._pauses[port].failed()

    def _open_found(self, port: LivePort, everything: Sequence[Listed], first: bool) -> None:
        fitting = pick(port.wanted, everything, port.whole)
        if first and len(fitting) > 1:
            raise UsageError(f"'{port.wanted}' {_several(fitting)}")
        taken = {_key(one.found) for one in self._ports if one.is_open and one.found is not None}
        free = [one for one in everything if _key(one) not in taken]
        # The port it was before, else one that was not yet there when that one went.
        before = [one for one in free if port.found is not None and one.base == port.found.base]
        bystanders = self._bystanders.get(port, set())
        strangers = [one for one in free if _key(one) not in bystanders]
        chosen = before[:1] or pick(port.wanted, strangers, port.whole)
        if len(chosen) == 1:
            system = next(one for one in self._systems if one.word == chosen[0].system)
            port.attach(system.open_input(chosen[0]), chosen[0])
            self._pauses[port].worked()
        elif chosen:
            port.note = _several(chosen)
        elif port.found is None and fitting:
            port.note = f"'{fitting[0].name}' is open already"
        elif port.found is None:
            here = f"here now: {_names(everything)}" if everything else "there are none now"
            port.note = f"no MIDI input is called that; opened as soon as it appears ({here})"

    def _open_virtual(self, port: LivePort) -> None:
        for system in self._systems:
            if system.answers and system.has_virtual:
                name = own_name(port.wanted)
                port.attach(system.open_virtual(name), Listed(port.wanted, system.word, name, port.wanted))
                self._pauses[port].worked()
                return
        if port.found is None:
            port.note = "no MIDI system here offers virtual ports; `lampwright ports` says what is missing"


def _is_there(port: LivePort, there: dict[str, tuple[Listed, ...]]) -> bool:
    found = port.found
    return found is not None and any(one.key == found.key for one in there[found.system])


def _key(port: Listed) -> tuple[str, str]:
    return port.system, port.key


def _players(keys: set[tuple[str, str]], word: str) -> bool:
    """True if one of these ports of a system may be of a program that plays into ours."""
    return any(system == word and not any(part in key for part in NO_PLAYERS) for system, key in keys)


def _several(ports: Sequence[Listed]) -> str:
    return f"fits several MIDI inputs: {_names(ports)}; give the whole name of the one you mean"


def _names(ports: Sequence[Listed]) -> str:
    return ", ".join(f"'{port.name}'" for port in ports)
