"""An example of the calendar: one evening of one invented household."""

CALENDAR = (
    "BEGIN:VCALENDAR\r\nPRODID:-//Kettlecast//Kettlecast 0.1.0//EN\r\nVERSION:2.0\r\nCALSCALE:GREGORIAN\r\n"
    "NAME:Gas and meals: An invented cottage\r\nX-WR-CALNAME:Gas and meals: An invented cottage\r\n"
    "X-WR-TIMEZONE:Europe/Lisbon\r\nREFRESH-INTERVAL;VALUE=DURATION:PT1H\r\nBEGIN:VEVENT\r\n"
    "UID:0f1cbd0b-9f57-5a3e-8f6e-3f3a4b0f8f10\r\nDTSTAMP:20261125T060000Z\r\nLAST-MODIFIED:20261125T060000Z\r\n"
    "SEQUENCE:217749600\r\nDTSTART:20261125T190000Z\r\nDTEND:20261125T193500Z\r\nSUMMARY:Dinner: on gas\r\n"
    "DESCRIPTION:Takes about 280 L of gas\\; the holder carries it whole with odds of 97%.\r\nCATEGORIES:GAS\r\n"
    "TRANSP:TRANSPARENT\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"
)
