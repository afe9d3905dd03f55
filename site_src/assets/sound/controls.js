// The keys of the bar at the foot, and the controls of its drawer.
"use strict";
{
// The tool that finds messages does not look into a template.
const soundWords = {
  play: stavewrightSay("Play"),
  drone: stavewrightSay("Drone"),
  metronome: stavewrightSay("Metronome"),
  slower: stavewrightSay("Slower"),
  tap: stavewrightSay("Tap"),
  theTempo: stavewrightSay("the tempo"),
  faster: stavewrightSay("Faster"),
  stopAll: stavewrightSay("Stop all"),
  sound: stavewrightSay("sound"),
  softer: stavewrightSay("Softer"),
  louder: stavewrightSay("Louder"),
  more: stavewrightSay("More"),
  ofDroneMetronomeAndPlaying: stavewrightSay("of drone, metronome and playing"),
  loudSoundNearTheEars: stavewrightSay("Loud sound near the ears can harm hearing, and players are already exposed to a great deal of it. Start quietly, more quietly with headphones, and raise the volume only until you hear it beside your own playing."),
  startTheDrone: stavewrightSay("Start the drone"),
  note: stavewrightSay("Note"),
  octave: stavewrightSay("Octave"),
  is4BeginsAtMiddleC: stavewrightSay("4 begins at middle C"),
  addToIt: stavewrightSay("Add to it"),
  nothing: stavewrightSay("nothing"),
  itsFifth: stavewrightSay("its fifth"),
  itsOctave: stavewrightSay("its octave"),
  both: stavewrightSay("both"),
  volume0To10: stavewrightSay("Volume, 0 to 10"),
  startTheMetronome: stavewrightSay("Start the metronome"),
  beats: stavewrightSay("Beats"),
  perMinute: stavewrightSay("per minute"),
  beatsInABar: stavewrightSay("Beats in a bar"),
  is0NoAccents: stavewrightSay("0: no accents"),
  eachBeat: stavewrightSay("Each beat"),
  notDivided: stavewrightSay("not divided"),
  inTwo: stavewrightSay("in two"),
  inThree: stavewrightSay("in three"),
  inFour: stavewrightSay("in four"),
  barsOfCountIn: stavewrightSay("Bars of count-in"),
  playingThrough: stavewrightSay("Playing through"),
  withTheMetronome: stavewrightSay("with the metronome"),
  withTheDrone: stavewrightSay("With the drone"),
  ifWritten: stavewrightSay("if written"),
  always: stavewrightSay("always"),
  never: stavewrightSay("never"),
  howManyTimes: stavewrightSay("How many times"),
  fromANoteOrSome: stavewrightSay("From a note, or some bars"),
  tapANoteOfThe: stavewrightSay("Tap a note of the music to play from there."),
  tapWhereToBegin: stavewrightSay("Tap where to begin"),
  tapBarsToRepeat: stavewrightSay("Tap bars to repeat"),
  firstBar: stavewrightSay("First bar"),
  lastBar: stavewrightSay("Last bar"),
  repeatTheseBars: stavewrightSay("Repeat these bars"),
  playAllOfIt: stavewrightSay("Play all of it"),
  ladder: stavewrightSay("Ladder"),
  raiseTheTempoStepBy: stavewrightSay("raise the tempo step by step"),
  byHowManyBeats: stavewrightSay("By how many beats"),
  afterHowManyBars: stavewrightSay("After how many bars"),
  upTo: stavewrightSay("Up to"),
  tuning: stavewrightSay("Tuning"),
  a4InHertz: stavewrightSay("A4, in hertz"),
  from415To466: stavewrightSay("from 415 to 466"),
  intervals: stavewrightSay("Intervals"),
  automatic: stavewrightSay("automatic"),
  just: stavewrightSay("just"),
  tempered: stavewrightSay("tempered"),
  justFromTheKeynoteAutomatic: stavewrightSay("just: from the keynote; automatic: just where a drone is written"),
  allVolumes0To10: stavewrightSay("All volumes, 0 to 10"),
  softerAndLouderInThe: stavewrightSay("softer and louder in the bar"),
};
for (const section of document.querySelectorAll("[data-sound]")) section.innerHTML = `
<div class="bar-keys">
<button type="button" data-bar="play" hidden><span class="sign" aria-hidden="true">▶</span> <span class="word">${soundWords.play}</span></button>
<button type="button" data-bar="drone" aria-pressed="false"><span class="sign"></span> <span class="word">${soundWords.drone}</span></button>
<button type="button" data-bar="pulse" aria-pressed="false"><span class="sign" aria-hidden="true">♩</span> <span class="word">${soundWords.metronome}</span></button>
<button type="button" data-bar="slower"><span class="sign" aria-hidden="true">−</span> <span class="word">${soundWords.slower}</span></button>
<button type="button" data-bar="tap"><span class="sign"></span> <span class="word">${soundWords.tap}<span class="vh"> ${soundWords.theTempo}</span></span></button>
<button type="button" data-bar="faster"><span class="sign" aria-hidden="true">+</span> <span class="word">${soundWords.faster}</span></button>
</div>
<div class="sound-now">
<div><p class="sound-words" role="status"></p><p class="sound-count" aria-hidden="true"></p></div>
<button type="button" data-bar="stop" hidden>${soundWords.stopAll}<span class="vh"> ${soundWords.sound}</span></button>
</div>
<div class="bar-keys">
<button type="button" data-bar="softer"><span class="sign" aria-hidden="true">−</span> <span class="word">${soundWords.softer}</span></button>
<button type="button" data-bar="louder"><span class="sign" aria-hidden="true">+</span> <span class="word">${soundWords.louder}</span></button>
</div>
<details class="sound">
<summary><span class="sign" aria-hidden="true">⋯</span> <span class="word">${soundWords.more}<span class="vh"> ${soundWords.ofDroneMetronomeAndPlaying}</span></span></summary>
<div class="drawer">
<p class="sound-caution">${soundWords.loudSoundNearTheEars}</p>
<p class="sound-fault" role="alert" hidden></p>
<form class="sound-desk" autocomplete="off">
<fieldset>
<legend>${soundWords.drone}</legend>
<p><button type="button" name="drone">${soundWords.startTheDrone}</button></p>
<p><label for="sound-pitch">${soundWords.note}</label> <select id="sound-pitch" name="pitch"></select></p>
<p><label for="sound-octave">${soundWords.octave}</label> <input id="sound-octave" name="octave" type="number" min="1" max="7" step="1" inputmode="numeric" aria-describedby="sound-octave-is"> <span class="quiet" id="sound-octave-is">${soundWords.is4BeginsAtMiddleC}</span></p>
<p><label for="sound-chord">${soundWords.addToIt}</label> <select id="sound-chord" name="chord"><option value="alone">${soundWords.nothing}</option><option value="fifth">${soundWords.itsFifth}</option><option value="octave">${soundWords.itsOctave}</option><option value="both">${soundWords.both}</option></select></p>
<p><label for="sound-drone-level">${soundWords.volume0To10}</label> <input id="sound-drone-level" name="droneLevel" type="number" min="0" max="10" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset>
<legend>${soundWords.metronome}</legend>
<p><button type="button" name="pulse">${soundWords.startTheMetronome}</button></p>
<p><label for="sound-tempo"><span data-beat>${soundWords.beats}</span> ${soundWords.perMinute}</label> <input id="sound-tempo" name="tempo" type="number" min="20" max="300" step="1" inputmode="numeric" aria-describedby="sound-range"> <span class="quiet" id="sound-range"></span></p>
<p><label for="sound-beats">${soundWords.beatsInABar}</label> <input id="sound-beats" name="beats" type="number" min="0" max="24" step="1" inputmode="numeric" aria-describedby="sound-beats-are"> <span class="quiet" id="sound-beats-are">${soundWords.is0NoAccents}</span></p>
<p><label for="sound-parts">${soundWords.eachBeat}</label> <select id="sound-parts" name="parts"><option value="1">${soundWords.notDivided}</option><option value="2">${soundWords.inTwo}</option><option value="3">${soundWords.inThree}</option><option value="4">${soundWords.inFour}</option></select></p>
<p><label for="sound-count">${soundWords.barsOfCountIn}</label> <input id="sound-count" name="countIn" type="number" min="0" max="4" step="1" inputmode="numeric"></p>
<p><label for="sound-pulse-level">${soundWords.volume0To10}</label> <input id="sound-pulse-level" name="pulseLevel" type="number" min="0" max="10" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset data-pieces>
<legend>${soundWords.playingThrough}</legend>
<p><label><input type="checkbox" name="withPulse"> ${soundWords.withTheMetronome}</label></p>
<p><label for="sound-with-drone">${soundWords.withTheDrone}</label> <select id="sound-with-drone" name="withDrone"><option value="written">${soundWords.ifWritten}</option><option value="always">${soundWords.always}</option><option value="never">${soundWords.never}</option></select></p>
<p><label for="sound-times">${soundWords.howManyTimes}</label> <input id="sound-times" name="times" type="number" min="1" max="50" step="1" inputmode="numeric"></p>
<p><label for="sound-tone-level">${soundWords.volume0To10}</label> <input id="sound-tone-level" name="toneLevel" type="number" min="0" max="10" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset data-pieces>
<legend>${soundWords.fromANoteOrSome}</legend>
<p class="quiet" data-tap-words>${soundWords.tapANoteOfThe}</p>
<p><button type="button" name="pickNote">${soundWords.tapWhereToBegin}</button></p>
<p><button type="button" name="pickBars">${soundWords.tapBarsToRepeat}</button></p>
<p><label for="sound-from">${soundWords.firstBar}</label> <input id="sound-from" name="fromBar" type="number" min="0" max="999" step="1" value="1" inputmode="numeric"></p>
<p><label for="sound-to">${soundWords.lastBar}</label> <input id="sound-to" name="toBar" type="number" min="0" max="999" step="1" value="2" inputmode="numeric"></p>
<p><button type="button" name="repeatBars">${soundWords.repeatTheseBars}</button></p>
<p><button type="button" name="playAll">${soundWords.playAllOfIt}</button></p>
</fieldset>
<fieldset>
<legend>${soundWords.ladder}</legend>
<p><label><input type="checkbox" name="ladder"> ${soundWords.raiseTheTempoStepBy}</label></p>
<p><label for="sound-by">${soundWords.byHowManyBeats}</label> <input id="sound-by" name="by" type="number" min="1" max="20" step="1" inputmode="numeric"></p>
<p><label for="sound-every">${soundWords.afterHowManyBars}</label> <input id="sound-every" name="every" type="number" min="1" max="99" step="1" inputmode="numeric"></p>
<p><label for="sound-top">${soundWords.upTo}</label> <input id="sound-top" name="top" type="number" min="20" max="300" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset>
<legend>${soundWords.tuning}</legend>
<p><label for="sound-a4">${soundWords.a4InHertz}</label> <input id="sound-a4" name="a4" type="number" min="415" max="466" step="0.1" inputmode="decimal" aria-describedby="sound-a4-is"> <span class="quiet" id="sound-a4-is">${soundWords.from415To466}</span></p>
<p><label for="sound-intervals">${soundWords.intervals}</label> <select id="sound-intervals" name="intonation" aria-describedby="sound-intervals-are"><option value="written">${soundWords.automatic}</option><option value="just">${soundWords.just}</option><option value="tempered">${soundWords.tempered}</option></select> <span class="quiet" id="sound-intervals-are">${soundWords.justFromTheKeynoteAutomatic}</span></p>
<p><label for="sound-level">${soundWords.allVolumes0To10}</label> <input id="sound-level" name="level" type="number" min="0" max="10" step="1" inputmode="numeric" aria-describedby="sound-level-is"> <span class="quiet" id="sound-level-is">${soundWords.softerAndLouderInThe}</span></p>
</fieldset>
</form>
<p class="sound-kept quiet"></p>
</div>
</details>
`;
}
