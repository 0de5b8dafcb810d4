"""Windows for rider, operator and fitter; the only folder that imports PySide6 or pyqtgraph.

What a window shows is decided in modules without Qt (``*_view.py``); widgets paint it.
"""
