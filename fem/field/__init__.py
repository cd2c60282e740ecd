"""Solvers: magnetostatics and eddy currents on triangles, end turns in three dimensions on bricks."""
