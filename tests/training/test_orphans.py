"""Workers do not outlive a parent that was killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

PARENT = """
import multiprocessing, os, sys, time
from firingend_training.orphans import end_with_parent

def work(ready):
    end_with_parent()
    ready.put(os.getpid())
    time.sleep(60)

if __name__ == "__main__":
    context = multiprocessing.get_context("spawn")
    ready = context.Queue()
    context.Process(target=work, args=(ready,), daemon=True).start()
    print(ready.get(), flush=True)
    time.sleep(60)
"""


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (ProcessLookupError, FileNotFoundError):
        return False


def test_a_worker_ends_when_its_parent_is_killed(tmp_path):
    script = tmp_path / "parent.py"
    script.write_text(PARENT)
    parent = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True)
    worker = int(parent.stdout.readline())
    assert _runs(worker)
    parent.send_signal(signal.SIGKILL)
    parent.wait()
    parent.stdout.close()
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline and _runs(worker):
        time.sleep(0.05)
    assert not _runs(worker)
