"""What is built: cores, conductors, windings, their fit in the window, cross-sections and meshes."""
