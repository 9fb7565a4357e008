"""From the bench to the 3D view: what is shown there, from where, and what a move or click of the pointer means."""

from app.scene.scene import Scene

__all__ = ["Scene"]
