"""Power over Ethernet: class, channel, what the door draws, peaks, the source's budget and its loss."""
