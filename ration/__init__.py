"""The cheapest safe winter ration for young breeding sheep."""
