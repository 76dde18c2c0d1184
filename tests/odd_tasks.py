"""Work that goes wrong in the ways that work can, for the tests of the page's processes."""

import os
import time

from fieldsim.errors import ImpossibleError


class OddTasks:
    def __init__(self):
        self.done = []

    def note(self, name, seconds=0.0):
        time.sleep(seconds)
        self.done.append(name)
        return list(self.done)

    def sleep(self, seconds):
        time.sleep(seconds)
        return "woke"

    def die(self):
        os._exit(3)

    def refuse(self):
        raise ImpossibleError("no such\nmachine")

    def who(self):
        return os.getpid()

    def grab(self, size):
        return len(bytearray(size))
