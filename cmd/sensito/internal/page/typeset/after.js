// What waits when a session is over was not done.
refuse(waiting);
keep([]);
