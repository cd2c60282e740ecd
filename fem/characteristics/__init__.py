"""characteristics"""
