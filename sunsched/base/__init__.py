"""The ground: errors and civil time. Imports nothing of the project's."""
