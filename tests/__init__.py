"""The tests. A package of its own, because a data package of the tests installs one of the same name."""
