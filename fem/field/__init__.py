"""field"""
