"""Who attacks: an integration of one channel, people of the roles, and the plant that they attack."""

from tests.api.conftest import client_with, live, person_of, plant, replay
from tests.pages.conftest import logged_in, person, shown

__all__ = ["client_with", "live", "logged_in", "person", "person_of", "plant", "replay", "shown"]
