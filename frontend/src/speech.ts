// Read aloud: the browser's own voice if it has one on this machine, else the bench's. Nothing is sent anywhere else.
import { signal } from "@preact/signals";

export const aloud = signal(localStorage.getItem("halfsplit.aloud") === "yes");
let playing: HTMLAudioElement | null = null;

function ownVoice(): SpeechSynthesisVoice | undefined {
  if (!("speechSynthesis" in window)) return undefined;
  const local = speechSynthesis.getVoices().filter((v) => v.localService);
  return local.find((v) => v.lang.startsWith("en")) ?? local[0];
}

export function setAloud(on: boolean): void {
  aloud.value = on;
  localStorage.setItem("halfsplit.aloud", on ? "yes" : "no");
}

export function speak(text: string): void {
  const voice = ownVoice();
  if (voice) {
    speechSynthesis.cancel();
    const said = new SpeechSynthesisUtterance(text);
    said.voice = voice;
    speechSynthesis.speak(said);
    return;
  }
  playing?.pause();
  playing = new Audio(`/api/say?text=${encodeURIComponent(text.slice(0, 300))}`);
  void playing.play().catch(() => undefined); // no voice here: the text stands on the page anyway
}
