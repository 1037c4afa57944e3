/* Sound, off until it is asked for: the click of the valve, and a tone that is the lower
 * the less oxygen the blood has. */

const sound = {
  context: null,

  get on() {
    return Boolean(this.context);
  },

  switch() {
    if (this.context) {
      this.context.close();
      this.context = null;
    } else {
      this.context = new AudioContext();
    }
    say(this.on ? "Sound on." : "Sound off.");
  },

  /** A short tone, Hz and s. */
  tone(pitch, lasts, loud) {
    if (!this.context) return;
    const { currentTime } = this.context;
    const [source, volume] = [this.context.createOscillator(), this.context.createGain()];
    source.frequency.value = pitch;
    volume.gain.setValueAtTime(loud, currentTime);
    volume.gain.exponentialRampToValueAtTime(1e-4, currentTime + lasts);
    source.connect(volume).connect(this.context.destination);
    source.start();
    source.stop(currentTime + lasts);
  },

  valve() {
    this.tone(160, 0.05, 0.2);
  },

  /** Two tones, low and high. */
  alarm() {
    this.tone(440, 0.25, 0.25);
    setTimeout(() => this.tone(660, 0.35, 0.25), 250);
  },

  /** A third lower for every ten percent below a full saturation. */
  saturation(percent) {
    this.tone(660 * 2 ** ((percent - 100) / 30), 0.12, 0.1);
  },
};

const muteButton = () => {
  const words = () => (sound.on ? "Mute" : "Sound on");
  const one = button(words(), () => {
    sound.switch();
    one.textContent = words();
  });
  return one;
};
