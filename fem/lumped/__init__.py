"""lumped"""
