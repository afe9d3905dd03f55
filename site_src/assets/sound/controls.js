// The keys of the bar at the foot, and the controls of its drawer.
"use strict";
for (const section of document.querySelectorAll("[data-sound]")) section.innerHTML = `
<div class="bar-keys">
<button type="button" data-bar="play" hidden><span class="sign" aria-hidden="true">▶</span> <span class="word">Play</span></button>
<button type="button" data-bar="drone" aria-pressed="false"><span class="sign"></span> <span class="word">Drone</span></button>
<button type="button" data-bar="pulse" aria-pressed="false"><span class="sign" aria-hidden="true">♩</span> <span class="word">Metronome</span></button>
<button type="button" data-bar="slower"><span class="sign" aria-hidden="true">−</span> <span class="word">Slower</span></button>
<button type="button" data-bar="tap"><span class="sign"></span> <span class="word">Tap<span class="vh"> the tempo</span></span></button>
<button type="button" data-bar="faster"><span class="sign" aria-hidden="true">+</span> <span class="word">Faster</span></button>
</div>
<div class="sound-now">
<div><p class="sound-words" role="status"></p><p class="sound-count" aria-hidden="true"></p></div>
<button type="button" data-bar="stop" hidden>Stop all<span class="vh"> sound</span></button>
</div>
<div class="bar-keys">
<button type="button" data-bar="softer"><span class="sign" aria-hidden="true">−</span> <span class="word">Softer</span></button>
<button type="button" data-bar="louder"><span class="sign" aria-hidden="true">+</span> <span class="word">Louder</span></button>
</div>
<details class="sound">
<summary><span class="sign" aria-hidden="true">⋯</span> <span class="word">More<span class="vh"> of drone, metronome and playing</span></span></summary>
<div class="drawer">
<p class="sound-caution">Loud sound near the ears can harm hearing, and players are already exposed to a great deal of it. Start quietly, more quietly with headphones, and raise the volume only until you hear it beside your own playing.</p>
<p class="sound-fault" role="alert" hidden></p>
<form class="sound-desk" autocomplete="off">
<fieldset>
<legend>Drone</legend>
<p><button type="button" name="drone">Start the drone</button></p>
<p><label for="sound-pitch">Note</label> <select id="sound-pitch" name="pitch"></select></p>
<p><label for="sound-octave">Octave</label> <input id="sound-octave" name="octave" type="number" min="1" max="7" step="1" inputmode="numeric" aria-describedby="sound-octave-is"> <span class="quiet" id="sound-octave-is">4 begins at middle C</span></p>
<p><label for="sound-chord">Add to it</label> <select id="sound-chord" name="chord"><option value="alone">nothing</option><option value="fifth">its fifth</option><option value="octave">its octave</option><option value="both">both</option></select></p>
<p><label for="sound-drone-level">Volume, 0 to 10</label> <input id="sound-drone-level" name="droneLevel" type="number" min="0" max="10" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset>
<legend>Metronome</legend>
<p><button type="button" name="pulse">Start the metronome</button></p>
<p><label for="sound-tempo"><span data-beat>Beats</span> per minute</label> <input id="sound-tempo" name="tempo" type="number" min="20" max="300" step="1" inputmode="numeric" aria-describedby="sound-range"> <span class="quiet" id="sound-range"></span></p>
<p><label for="sound-beats">Beats in a bar</label> <input id="sound-beats" name="beats" type="number" min="0" max="24" step="1" inputmode="numeric" aria-describedby="sound-beats-are"> <span class="quiet" id="sound-beats-are">0: no accents</span></p>
<p><label for="sound-parts">Each beat</label> <select id="sound-parts" name="parts"><option value="1">not divided</option><option value="2">in two</option><option value="3">in three</option><option value="4">in four</option></select></p>
<p><label for="sound-count">Bars of count-in</label> <input id="sound-count" name="countIn" type="number" min="0" max="4" step="1" inputmode="numeric"></p>
<p><label for="sound-pulse-level">Volume, 0 to 10</label> <input id="sound-pulse-level" name="pulseLevel" type="number" min="0" max="10" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset data-pieces>
<legend>Playing through</legend>
<p><label><input type="checkbox" name="withPulse"> with the metronome</label></p>
<p><label for="sound-with-drone">With the drone</label> <select id="sound-with-drone" name="withDrone"><option value="written">if written</option><option value="always">always</option><option value="never">never</option></select></p>
<p><label for="sound-times">How many times</label> <input id="sound-times" name="times" type="number" min="1" max="50" step="1" inputmode="numeric"></p>
<p><label for="sound-tone-level">Volume, 0 to 10</label> <input id="sound-tone-level" name="toneLevel" type="number" min="0" max="10" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset data-pieces>
<legend>From a note, or some bars</legend>
<p class="quiet" data-tap-words>Tap a note of the music to play from there.</p>
<p><button type="button" name="pickNote">Tap where to begin</button></p>
<p><button type="button" name="pickBars">Tap bars to repeat</button></p>
<p><label for="sound-from">First bar</label> <input id="sound-from" name="fromBar" type="number" min="0" max="999" step="1" value="1" inputmode="numeric"></p>
<p><label for="sound-to">Last bar</label> <input id="sound-to" name="toBar" type="number" min="0" max="999" step="1" value="2" inputmode="numeric"></p>
<p><button type="button" name="repeatBars">Repeat these bars</button></p>
<p><button type="button" name="playAll">Play all of it</button></p>
</fieldset>
<fieldset>
<legend>Ladder</legend>
<p><label><input type="checkbox" name="ladder"> raise the tempo step by step</label></p>
<p><label for="sound-by">By how many beats</label> <input id="sound-by" name="by" type="number" min="1" max="20" step="1" inputmode="numeric"></p>
<p><label for="sound-every">After how many bars</label> <input id="sound-every" name="every" type="number" min="1" max="99" step="1" inputmode="numeric"></p>
<p><label for="sound-top">Up to</label> <input id="sound-top" name="top" type="number" min="20" max="300" step="1" inputmode="numeric"></p>
</fieldset>
<fieldset>
<legend>Tuning</legend>
<p><label for="sound-a4">A4, in hertz</label> <input id="sound-a4" name="a4" type="number" min="415" max="466" step="0.1" inputmode="decimal" aria-describedby="sound-a4-is"> <span class="quiet" id="sound-a4-is">from 415 to 466</span></p>
<p><label for="sound-intervals">Intervals</label> <select id="sound-intervals" name="intonation" aria-describedby="sound-intervals-are"><option value="written">automatic</option><option value="just">just</option><option value="tempered">tempered</option></select> <span class="quiet" id="sound-intervals-are">just: from the keynote; automatic: just where a drone is written</span></p>
<p><label for="sound-level">All volumes, 0 to 10</label> <input id="sound-level" name="level" type="number" min="0" max="10" step="1" inputmode="numeric" aria-describedby="sound-level-is"> <span class="quiet" id="sound-level-is">softer and louder in the bar</span></p>
</fieldset>
</form>
<p class="sound-kept quiet"></p>
</div>
</details>
`;
