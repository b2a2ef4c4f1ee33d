"""A worker process whose errands are quick and odd; ``seal`` says what an errand does."""

from __future__ import annotations

import os
import sys
import threading
import time

from leakdx.files.faults import Fault, FaultyInput
from leakdx.panels.messages import Errand, Post
from leakdx.panels.worker import serve

# So that a test that goes wrong leaves nothing behind for long.
LONG = 20.0


def do(errand: Errand, post: Post) -> None:
    post.running("beginning", 0, 3)
    match errand.seal:
        case "stages":
            # Answers its first part, then goes from stage to stage until it is dropped.
            post.answer("first", errand.head)
            for _ in range(200):
                time.sleep(0.05)
                post.running("going on", 1, 3)
        case "sleep":
            time.sleep(LONG)
        case "busy":
            end = time.monotonic() + LONG
            while time.monotonic() < end:
                pass
        case "print":
            print("ldx1 stray", flush=True)
            os.write(1, b"ldx1R\0\0\0\0\0\0\0\1x")
            post.answer("read", sys.stdin.readline())
        case "bad":
            raise ValueError("no such luck")
        case "faulty":
            raise FaultyInput([Fault("", None, "zones", "is empty", "Add a zone.")])
        case "unpicklable":
            post.answer("lock", threading.Lock())
        case "die":
            print("last words", file=sys.stderr, flush=True)
            os._exit(9)
    post.answer("whole", [errand.name, errand.head, os.getpid(), errand.which])


if __name__ == "__main__":
    serve(do)
