"""materials"""
