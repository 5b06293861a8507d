"""How long an office keeps phones waiting: `python tests/benchmarks/office.py [PHONES] [VISITS] [PAUSE]`.

Not a test: a measurement on loopback. Phones that send visits, read them back and look at pages of the office at once; for each
kind of request the time within which half and 95 of 100 were answered. PAUSE: s, at most, between two requests of one phone.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "store"))

from offices import serving
from phones import Phone, asked


def main(phones: int = 50, visits: int = 6, pause: float = 2.0) -> None:
    took: dict[str, list[float]] = {"send": [], "read": [], "page": []}

    def timed(port: int, method: str, path: str, body: object = None) -> tuple[int, bytes]:
        begun = time.perf_counter()
        answer = asked(port, method, path, body)
        took["send" if method == "PUT" else "read"].append(time.perf_counter() - begun)
        return answer

    Phone.ask = staticmethod(timed)
    with tempfile.TemporaryDirectory() as folder, serving(Path(folder) / "visits.db") as office:
        sending = threading.Semaphore(0)
        all_phones = [Phone((office,), number, visits, sending, pause) for number in range(1, phones + 1)]
        for phone in all_phones:
            phone.start()
        while any(phone.is_alive() for phone in all_phones):  # one person looks at the first page meanwhile
            begun = time.perf_counter()
            status, _ = asked(office.port, "GET", "/office/")
            took["page"].append(time.perf_counter() - begun)
            assert status == 200
            time.sleep(5.0)
        assert [phone.wrong for phone in all_phones if phone.wrong] == []
    for name, times in took.items():
        half, most = statistics.median(times), statistics.quantiles(times, n=20)[-1]
        print(f"{name}: {len(times)} requests, half within {1000 * half:.0f} ms, 95 of 100 within {1000 * most:.0f} ms")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *map(float, sys.argv[3:4]))
