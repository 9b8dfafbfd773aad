package busy

import ("testing";"time";_ "time/tzdata")

func TestSmoke(t *testing.T){
 z,_:=time.LoadLocation("America/New_York")
 c,err:=Read("a.ics",[]byte("BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART;TZID=America/New_York:19970902T090000\r\nDURATION:PT1H\r\nRRULE:FREQ=DAILY;COUNT=10\r\nSUMMARY:A\\, b\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n"),time.Date(1997,1,1,0,0,0,0,z),time.Date(1998,1,1,0,0,0,0,z),z)
 t.Log(c,err)
}
