// The microphone: asked for by a tap, shared by those that use it, and let go when nobody does.
"use strict";
(function (sound) {
  // What stands in the way before the browser is asked, as the name of a refusal in parts/own_playing.html; or "".
  function obstacle() {
    if (!window.isSecureContext) return "insecure";
    return navigator.mediaDevices?.getUserMedia ? "" : "unable";
  }

  // The name of the refusal that an error of getUserMedia means (Media Capture and Streams, W3C).
  function refusalOf(error) {
    if (error.name === "NotAllowedError" || error.name === "SecurityError") return "refused";
    if (error.name === "NotFoundError" || error.name === "OverconstrainedError") return "none";
    return error.name === "NotReadableError" || error.name === "AbortError" ? "taken" : "unable";
  }

  // Whether the device has a microphone; true where the browser does not say.
  async function hasMicrophone() {
    try {
      return (await navigator.mediaDevices.enumerateDevices()).some(({ kind }) => kind === "audioinput");
    } catch {
      return true;
    }
  }

  // `lost(refusal)` hears that the microphone was unplugged or taken away.
  function microphone(lost) {
    const users = new Set();
    let asked = null;

    async function ask() {
      const stream = await navigator.mediaDevices.getUserMedia({
        audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: { ideal: 1 } },
      });
      if (navigator.audioSession) navigator.audioSession.type = "play-and-record";
      stream.getAudioTracks()[0].addEventListener("ended", () => { if (asked) lost("taken"); });
      return stream;
    }

    function closeAll() {
      users.clear();
      const before = asked;
      asked = null;
      if (!before) return;
      before.then((stream) => stream.getTracks().forEach((track) => track.stop()), () => {});
      if (navigator.audioSession) navigator.audioSession.type = "playback";
    }

    return {
      // The stream for a user, or the name of a refusal; null where the user has closed it in the meantime.
      async open(user) {
        const before = obstacle();
        if (before) return { refusal: before };
        users.add(user);
        asked = asked || ask();
        const mine = asked;
        try {
          const stream = await mine;
          return asked === mine && users.has(user) ? { stream } : null;
        } catch (error) {
          if (asked === mine) closeAll();
          return { refusal: refusalOf(error) };
        }
      },
      close(user) {
        users.delete(user);
        if (!users.size) closeAll();
      },
      closeAll,
    };
  }

  Object.assign(sound, { microphone, hasMicrophone, obstacle });
})((window.stavewrightSound = window.stavewrightSound || {}));
