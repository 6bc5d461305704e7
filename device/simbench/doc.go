// Package simbench is a bench that is not there: instruments behind real
// pseudo-terminals (loopback TCP where the system has none), wired to consoles
// whose rails, reservoir, video and audio follow physics of their own. Readers
// and analysers are tried against it, so it shares no code and no table with
// them: it parses SCPI by itself, keeps its own error queue and draws its video
// lines from the published levels and timings.
//
// Every signal is a function of one clock, the seconds since Run, so that a
// scope record and a meter reading of one moment agree. Chance (noise, garbage)
// comes from Config.Seed.
//
// All instruments know the common commands of IEEE 488.2 (*CLS *ESE *ESE? *ESR?
// *IDN? *OPC *OPC? *RST *SRE *SRE? *STB? *TST? *WAI) and SYSTem:ERRor[:NEXT]?
// as SCPI-1999 has it. Beyond these:
//
// # Meter
//
//	MEASure[:SCALar]:VOLTage[:DC]? [range]   also :VOLTage:AC? :CURRent[:DC]?
//	                                         :RESistance? :FREQuency? :TEMPerature?
//	CONFigure[:SCALar]:…  READ?  FETCh?  INITiate[:IMMediate]  ABORt
//	ROUTe:CLOSe (@ch)  ROUTe:CLOSe? (@ch)  ROUTe:OPEN:ALL
//	SENSe:VOLTage[:DC]:NPLCycles n           and its query
//
// Answers are NR3 with as many digits as 6.5 digits of the range give, 9.9E37
// above 1.2 times the range, 9.91E37 where there is nothing to measure.
//
// # Scope
//
//	CHANnel<n>:SCALe volts        one of 10 divisions; range -5 to +5 divisions
//	CHANnel<n>:OFFSet volts       what stands in the middle of the range
//	CHANnel<n>:COUPling DC|AC     CHANnel<n>:PROBe factor
//	SWEep:TIME seconds            of the whole record; SWEep:POINts 2500 to 100000
//	SWEep:TINTerval?              seconds from point to point
//	SWEep:POSition share          how much of the record lies before the trigger
//	TRIGger:SOURce CHANnel<n>|NONE  TRIGger:LEVel volts
//	TRIGger:SLOPe POSitive|NEGative TRIGger:SWEep AUTO|NORMal  TRIGger:FORCe
//	RUN  STOP  SINGle             ACQuire:STATe? answers RUN, WAIT or STOP
//	MEASure:VOLTage:PTPeak? (@n)  and the other words listed in scope_measure.go
//	RECord:SOURce CHANnel<n>      RECord:FORMat BYTE|WORD|ASCii
//	RECord:BORDer NORMal|SWAPped  RECord:SIGNed ON|OFF
//	RECord:POINts?  RECord:XINCrement?  RECord:XORigin?
//	RECord:YINCrement?  RECord:YORigin?  RECord:YREFerence?  RECord:PREamble?
//	RECord:DATA?                  a definite-length block (IEEE 488.2, 8.7.9) of
//	                              codes, or volts with commas in ASCii
//
// A code is worth (code - y-reference) * y-increment + y-origin volts. All
// settings have a query. *OPC? after SINGle answers when the record is complete.
// RECord:PREamble? gives points, x-increment, x-origin, y-increment, y-origin and
// y-reference in this order.
//
// # Supply
//
//	[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude] volts   likewise CURRent
//	OUTPut[:STATe] ON|OFF   MEASure[:SCALar]:VOLTage[:DC]?   :CURRent?  :POWer?
//
// # Talker
//
// Sends one line every interval, unasked, and ignores what it is told.
package simbench
