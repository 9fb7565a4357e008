"""The window: job sheet, 3D view and elevation around one bench, with menus, status line and banners.

One class in four layers, each of which can be read by itself: what it is made of (frame), what it says (telling),
files in and out (files), and what keys and menus do (window).
"""

from app.window.run import run
from app.window.window import Window

__all__ = ["Window", "run"]
