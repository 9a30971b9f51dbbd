"""Rules about failures: what a door does when power, network, controller, cable or device fail, and in lockdown."""
