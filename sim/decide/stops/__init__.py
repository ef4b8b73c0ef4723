"""Belt stops and alarms: how often each cause comes, and what it cost on a day."""
